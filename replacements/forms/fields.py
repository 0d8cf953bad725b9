"""Fields that more than one form of the work needs."""

import re
from collections.abc import Iterable

from django import forms

from services_inventory.domain.materials import Connector, Material

from ..domain.lengths import LengthError, length, written

BLANK = [("", "not stated")]
MATERIALS = BLANK + [(m.value, m.label) for m in Material if m is not Material.UNKNOWN]
CONNECTORS = BLANK + [(c.value, c.label) for c in Connector if c is not Connector.UNKNOWN]
NEW_MATERIALS = [
    (m.value, m.label) for m in (Material.PLASTIC, Material.COPPER, Material.OTHER_NON_LEAD)
]


def code_said(said: str, choices: Iterable[tuple[str, str]]) -> str | None:
    """Return the code that a text names, by its code or its words in any case; None if none.

    Words may lack what stands behind them in brackets, so that a figure that changes with the
    tables does not make a filled form strange.
    """
    pairs = [(str(code), str(label)) for code, label in choices if code]
    wanted = _compared(said)
    for code, label in pairs:
        if wanted in (_compared(code), _compared(label)):
            return code
    short = [code for code, label in pairs if _short(label) == _short(said)]
    return short[0] if len(short) == 1 else None


def _compared(text: str) -> str:
    return " ".join(text.replace("_", " ").casefold().split())


def _short(text: str) -> str:
    return _compared(re.sub(r"\s*\([^)]*\)\s*$", "", text))


class SaidChoice(forms.ChoiceField):
    """A choice that is sent as its code or said in its words."""

    def to_python(self, value):
        """Return the code of what was said; what names no choice is left for the check."""
        text = super().to_python(value)
        return code_said(text, self.choices) or text


def figure(label: str, required: bool = False, help_text: str = "", **more) -> forms.FloatField:
    """Return a field for a measured figure above zero unless told otherwise."""
    more.setdefault("min_value", 0)
    widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    return forms.FloatField(
        label=label, required=required, help_text=help_text, widget=widget, **more
    )


class LengthField(forms.FloatField):
    """A size as people write it: 3/8, 1 1/4 in, 9.5 mm; without a unit it is in the field's."""

    widget = forms.TextInput

    def __init__(self, *, unit: str, **options):
        self.unit = unit
        super().__init__(**options)

    def to_python(self, value) -> float | None:
        """Return the size in the field's unit; what cannot be read is said."""
        if value in self.empty_values or isinstance(value, int | float):
            return super().to_python(value)
        try:
            return length(str(value), self.unit)
        except LengthError as error:
            raise forms.ValidationError(str(error), code="invalid") from error

    def prepare_value(self, value):
        """Return a stored size as it is written; what was typed stays as it is."""
        return written(value) if isinstance(value, int | float) else value


def size(label: str, required: bool = False, help_text: str = "", unit: str = "IN", **more):
    """Return a field for a length, above zero unless told otherwise; unit is IN or FT."""
    more.setdefault("min_value", 0)
    return LengthField(label=label, required=required, help_text=help_text, unit=unit, **more)


def feet(label: str, **more) -> LengthField:
    """Return a field for a length in feet; 5 ft 3 in and 1.6 m are read too."""
    return size(label, unit="FT", **more)


def measure(label: str, **more) -> forms.FloatField:
    """Return a field for what its label says at its end: a size, a length in feet, or a figure."""
    kinds = {"in.": size, "ft": feet}
    return kinds.get(label.rpartition(", ")[2], figure)(label, **more)


def tick(label: str, help_text: str = "") -> forms.BooleanField:
    """Return a box to tick; not ticked means not done."""
    return forms.BooleanField(label=label, required=False, help_text=help_text)


def words(label: str, required: bool = False, rows: int = 3, help_text: str = ""):
    """Return a field for a few lines of text."""
    widget = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, required=required, widget=widget, help_text=help_text)


def several(label: str, kinds) -> forms.MultipleChoiceField:
    """Return boxes of which any may be ticked, one for each code of an enumeration."""
    return forms.MultipleChoiceField(
        label=label,
        required=False,
        choices=[(kind.value, kind.label) for kind in kinds],
        widget=forms.CheckboxSelectMultiple(),
    )


def moment(label: str, required: bool = True) -> forms.DateTimeField:
    """Return a field for a day and a time, in the utility's own time."""
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    return forms.DateTimeField(label=label, required=required, widget=widget)
