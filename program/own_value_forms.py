"""Forms of the State's and the utility's own values: they gather words, operations read them."""

from django import forms

from program.domain.utility_facts import primacy_codes, utility_facts
from services_inventory.domain.allowed import Allowed, Kind, typed
from services_inventory.domain.evidence import Basis
from services_inventory.domain.regulation import JURISDICTIONS, Value
from services_inventory.forms.days import day_field

_DATE = forms.DateInput(attrs={"type": "date"})
_YES_NO = (("", "Choose …"), ("yes", "Yes"), ("no", "No"))


def value_field(allowed: Allowed, label: str, words: str = "", **more) -> forms.Field:
    """Return the field that a value of this kind is typed into; what it may be is its hint."""
    hint = " ".join(filter(None, (words, allowed.hint)))
    choices = [("", "Choose …"), *((code, _label(code)) for code in allowed.one_of if code)]
    if allowed.kind is Kind.CHOICES:
        return forms.MultipleChoiceField(
            label=label,
            required=False,
            choices=choices[1:],
            widget=forms.CheckboxSelectMultiple,
            help_text="Tick none for none of them.",
        )
    widgets = {
        Kind.YES_NO: forms.Select(choices=_YES_NO),
        Kind.CHOICE: forms.Select(choices=choices),
        Kind.ROWS: forms.Textarea(attrs={"rows": 8, "class": "code"}),
        Kind.DAY: _DATE,
    }
    hint = words if allowed.kind in (Kind.YES_NO, Kind.CHOICE, Kind.TEXT) else hint
    widget = widgets.get(allowed.kind, forms.TextInput)
    return forms.CharField(label=label, max_length=4_000, widget=widget, help_text=hint, **more)


def _label(code: str) -> str:
    """Return the words of a code that a person chooses by."""
    if code in Basis.__members__:
        return Basis(code).label.capitalize()
    if code in primacy_codes():
        return f"{code}, {primacy_codes()[code][0]}"
    return code if "/" in code or "-" in code else code.replace("_", " ").capitalize()


class OwnValueForm(forms.Form):
    """A value as the State, the locality or the utility set it."""

    def __init__(self, *args, base: Value, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields = {"value": value_field(base.allowed, "Value"), **self.fields}
        if base.allowed.kind is Kind.ROWS:
            self.fields["value"].initial = typed(base.value)

    jurisdiction = forms.ChoiceField(
        label="Set by", choices=[(name, name.capitalize()) for name in JURISDICTIONS[1:]]
    )
    effective_from = day_field("First day it holds")
    citation = forms.CharField(
        label="Where it stands",
        max_length=200,
        required=False,
        help_text="The State's paragraph, or its letter with its day.",
    )

    def clean_value(self) -> str:
        """Return what was typed, of several choices as one text."""
        found = self.cleaned_data["value"]
        return " ".join(found) if isinstance(found, list) else found


class EndForm(forms.Form):
    """The first day that a value no longer holds."""

    day = day_field("First day it no longer holds")


class ReasonForm(forms.Form):
    """Why what was rehearsed is kept."""

    reason = forms.CharField(
        label="Reason",
        max_length=2_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It stays with the value. Name the letter or the record it rests on.",
    )


class UtilityForm(forms.Form):
    """The utility's facts, and from when those that are changed here hold."""

    effective_from = day_field(
        "From when the change holds", help_text="Today, or the earlier day on which it began."
    )

    def __init__(self, *args, facts: dict, day, **kwargs):
        initial = {name: typed(value) for name, value in facts.items()}
        super().__init__(*args, initial={**initial, "effective_from": day}, **kwargs)
        for name, fact in utility_facts().items():
            allowed = fact.allowed
            needed = bool(allowed.least) and not allowed.may_be_none
            self.fields[name] = value_field(allowed, fact.label, fact.help, required=needed)
            if name == "return_address":
                self.fields[name].widget = forms.Textarea(attrs={"rows": 3})
        self.order_fields([*utility_facts(), "effective_from"])

    def texts(self) -> dict[str, str]:
        """Return what was typed, by fact."""
        return {name: self.cleaned_data[name] for name in utility_facts()}
