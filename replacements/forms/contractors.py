"""Certificates, and lots of pipe with their papers."""

from django import forms

from services_inventory.forms.days import day_field

from ..models import Certificate
from .fields import tick
from .orders import new_pipes


def paper() -> forms.FileField:
    """Return a field for the paper itself."""
    return forms.FileField(
        label="The paper", required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
    )


class CertificateForm(forms.Form):
    """A paper that must be valid on the day of work."""

    kind = forms.ChoiceField(label="Kind", choices=Certificate.Kind.choices)
    holder = forms.CharField(label="Holder", max_length=120, required=False)
    number = forms.CharField(label="Number", max_length=80, required=False)
    expires_on = day_field("Valid to")
    paper = paper()

    def values(self) -> dict:
        """Return what the operation takes, the paper apart."""
        return {name: value for name, value in self.cleaned_data.items() if name != "paper"}


class LotForm(forms.Form):
    """A lot of pipe."""

    lot = forms.CharField(label="Lot on the pipe", max_length=80)
    pipe = forms.ChoiceField(label="Pipe", choices=new_pipes)
    contact_standard = tick("NSF/ANSI/CAN 61: drinking-water contact")
    lead_free_standard = tick("NSF/ANSI/CAN 372: lead-free")
    domestic_content = tick("Domestic-content papers on file")
    paper = paper()

    def values(self) -> dict:
        """Return what the operation takes, the paper apart."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "paper"}
        material, size, grade = given.pop("pipe").split("|")
        return given | {"material": material, "nominal_in": float(size), "grade": grade}


class CrewForm(forms.Form):
    """A crew."""

    name = forms.CharField(label="Name of the crew", max_length=80)
    foreman = forms.CharField(label="Foreman", max_length=120, required=False)

    def values(self) -> dict:
        """Return what the operation takes."""
        return dict(self.cleaned_data)


class DomesticForm(forms.Form):
    """Whether the company's pipe needs domestic-content papers."""

    required = tick(
        "New pipe needs domestic-content papers",
        "Where federal money pays: Build America, Buy America Act, Pub. L. 117-58, sec. 70914 "
        "[from memory]; ask the funding agency.",
    )
