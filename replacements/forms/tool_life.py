"""Renewed wear parts, papers of ratings, and the set-up of a tool set."""

from django import forms

from services_inventory.forms.days import day_field

from ..domain.tool_strings import Fact, SetUp, SizeGroup, assembly_checks
from ..domain.tool_strings.setup import LEAD_SIZES_IN
from ..domain.units import inches
from ..operations.tools import WEAR_PARTS
from .fields import figure, measure

NEW_SIZES_IN = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)
GROUPS = (1, 2, 3)


class RenewalForm(forms.Form):
    """A wear part renewed."""

    part = forms.ChoiceField(label="What was renewed", choices=list(WEAR_PARTS.items()))
    done_on = day_field("Done on")
    done_by = forms.CharField(label="By whom", max_length=120)
    note = forms.CharField(label="Note", max_length=200, required=False)


class PaperForm(forms.Form):
    """The certificate or a picture of the tag."""

    paper = forms.FileField(label="Certificate or tag", help_text="JPEG, PNG, HEIC or PDF.")


class PhotoForm(forms.Form):
    """A photo of the tool, so that it is told from its neighbors."""

    photo = forms.FileField(
        label="Photo of the tool", help_text="JPEG, PNG or HEIC.",
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )  # fmt: skip


class ConfirmForm(forms.Form):
    """What a second person reads off the paper."""

    number = forms.IntegerField(widget=forms.HiddenInput)
    read_lbf = figure("You read, lb", required=True)


class WithdrawForm(forms.Form):
    """A record of a tool taken back."""

    kind = forms.CharField(widget=forms.HiddenInput)
    number = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why it is withdrawn", max_length=200)


class SetForm(forms.Form):
    """A new tool set."""

    name = forms.CharField(label="Your name for the set", max_length=60)


def _sizes(label: str, sizes) -> forms.MultipleChoiceField:
    return forms.TypedMultipleChoiceField(
        label=label, required=False, coerce=float, widget=forms.CheckboxSelectMultiple(),
        choices=[(str(size), inches(size)) for size in sizes],
    )  # fmt: skip


class SetFactsForm(forms.Form):
    """What the maker's instructions say; a row left blank stays common practice."""

    instructions = forms.CharField(
        label="The maker's instructions", max_length=200,
        help_text="Title, edition and page, as another person would find it.",
    )  # fmt: skip

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for check in assembly_checks():
            if check.of_set == "BOUNDS":
                unit = "in." if check.unit == "in" else check.unit
                self.fields[f"{check.check}_low"] = measure(f"At least, {unit}")
                self.fields[f"{check.check}_high"] = measure(f"At most, {unit}")
            if check.of_set in ("BOUNDS", "WORDS"):
                self.fields[f"{check.check}_words"] = forms.CharField(
                    label="In words", max_length=200, required=False
                )
        for number in GROUPS:
            self.fields[f"old_{number}"] = _sizes(f"Group {number}: old pipe", LEAD_SIZES_IN)
            self.fields[f"new_{number}"] = _sizes(f"Group {number}: new pipe", NEW_SIZES_IN)

    @classmethod
    def of(cls, setup: SetUp | None) -> "SetFactsForm":
        """Return the form as the set stands."""
        if setup is None:
            return cls()
        initial = {"instructions": setup.instructions}
        for check, fact in setup.facts.items():
            initial |= {f"{check}_{part}": getattr(fact, part) for part in ("low", "high", "words")}
        for number, group in enumerate(setup.groups or (), start=1):
            initial[f"old_{number}"] = [str(size) for size in group.old_in]
            initial[f"new_{number}"] = [str(size) for size in group.new_in]
        return cls(initial=initial)

    def of_check(self, check) -> list:
        """Return the fields of one row."""
        if check.of_set == "GROUPS":
            return [self[f"{part}_{n}"] for n in GROUPS for part in ("old", "new")]
        names = (f"{check.check}_{part}" for part in ("low", "high", "words"))
        return [self[name] for name in names if name in self.fields]

    def values(self) -> dict:
        """Return what the operation takes."""
        given, facts = self.cleaned_data, {}
        for check in assembly_checks():
            low, high, words = (given.get(f"{check.check}_{p}") for p in ("low", "high", "words"))
            if low is not None or high is not None or words:
                facts[check.check] = Fact(low, high, words or "")
        groups = [SizeGroup(tuple(given[f"old_{n}"]), tuple(given[f"new_{n}"])) for n in GROUPS
                  if given[f"old_{n}"] or given[f"new_{n}"]]  # fmt: skip
        return {"instructions": given["instructions"], "facts": facts, "groups": groups}
