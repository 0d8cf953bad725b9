"""What somebody knows of a building."""

from django import forms

from ..models.places import PLUMBINGS, TREATMENTS, PremiseKind

_NOT_KNOWN = [("", "not on record")]


class BuildingForm(forms.Form):
    """The building's kind, the plumbing inside and treatment, as sampling tiers need them."""

    kind = forms.ChoiceField(label="Building", choices=PremiseKind.choices, required=False)
    building_year = forms.IntegerField(
        label="Year the building was built",
        required=False,
        error_messages={"invalid": "This is no year; write it like 1936."},
    )
    plumbing = forms.ChoiceField(
        label="Plumbing inside",
        choices=_NOT_KNOWN + PLUMBINGS,
        required=False,
        help_text="Where there are several, the first of this list that is there.",
    )
    plumbing_year = forms.IntegerField(
        label="Year the plumbing was laid",
        required=False,
        error_messages={"invalid": "This is no year; write it like 1978."},
        help_text="Tells whether lead solder is from before the ban.",
    )
    treatment = forms.ChoiceField(
        label="Device that takes lead out",
        choices=_NOT_KNOWN + TREATMENTS,
        required=False,
        help_text="At the tap (point of use) or where the water comes in (point of entry).",
    )
    source = forms.CharField(
        label="How it is known",
        max_length=300,
        help_text="For instance: seen at a visit, plumbing permit 84-113, owner's letter.",
    )
