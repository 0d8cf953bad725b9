"""Drawing lines for validation, and what a visit found."""

from django import forms

from ..domain.evidence import Basis
from ..domain.materials import Material, read_material
from .days import day_field

POINT_ROWS = 3
BASES = [
    (basis.value, basis.label)
    for basis in Basis
    if basis.traits.exterior and basis != Basis.REPLACEMENT
]
PORTIONS = (("", "–"), ("SYSTEM", "system side"), ("CUSTOMER", "customer side"))


class DrawForm(forms.Form):
    """The seed of a draw."""

    seed = forms.CharField(
        label="Seed",
        max_length=64,
        help_text="Any words or digits, best agreed by more than one person or thrown with dice. "
        "Same pool and same seed give the same draw.",
    )


class PointForm(forms.Form):
    """One place where the pipe was seen."""

    portion = forms.ChoiceField(choices=PORTIONS, required=False, label="Portion")
    place = forms.CharField(max_length=60, required=False, label="Place")
    material = forms.CharField(
        max_length=80,
        required=False,
        label="Material",
        widget=forms.TextInput(attrs={"list": "material-words", "autocomplete": "off"}),
    )

    def clean(self):
        """Ask for all three or none, and read the material's words."""
        data = super().clean()
        given = [name for name in ("portion", "place", "material") if data.get(name)]
        if given:
            for name in {"portion", "place", "material"} - set(given):
                self.add_error(name, f"Write the {name} of this point too.")
        if data.get("material"):
            found = read_material(data["material"])
            if not found.code:
                known = ", ".join(m.label for m in Material)
                said = f"“{data['material']}” is not clear. {found.reason} Write one of: {known}."
                self.add_error("material", said)
            data["material"] = found.code or ""
        return data


PointFormSet = forms.formset_factory(PointForm, extra=0, min_num=POINT_ROWS, max_num=POINT_ROWS)


class VisitForm(forms.Form):
    """A visit to a drawn line."""

    ACCESS = (("YES", "the pipe was seen"), ("NO", "no access"))

    access = forms.ChoiceField(choices=ACCESS, label="Access", initial="YES")
    observed_on = day_field("Day of the visit")
    basis = forms.ChoiceField(choices=BASES, label="How the pipe was seen")
    note = forms.CharField(
        label="Note",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Without access: what was tried.",
    )

    def said(self, points) -> dict:
        """Return what `pick_result_record` takes, from this form and the points' forms."""
        data = self.cleaned_data
        return {
            "accessible": data["access"] == "YES",
            "observed_on": data["observed_on"],
            "basis": data["basis"],
            "note": data["note"],
            "points": [p for p in points.cleaned_data if p.get("portion")],
        }
