"""Certificates, and lots of pipe with their papers."""

from django import forms

from ..models import Certificate
from .fields import day, tick
from .orders import new_pipes


class CertificateForm(forms.Form):
    """A paper that must be valid on the day of work."""

    kind = forms.ChoiceField(label="Kind", choices=Certificate.Kind.choices)
    holder = forms.CharField(label="Holder", max_length=120, required=False)
    number = forms.CharField(label="Number", max_length=80, required=False)
    expires_on = day("Valid to")

    def values(self) -> dict:
        """Return what the operation takes."""
        return dict(self.cleaned_data)


class LotForm(forms.Form):
    """A lot of pipe."""

    lot = forms.CharField(label="Lot on the pipe", max_length=80)
    pipe = forms.ChoiceField(label="Pipe", choices=new_pipes)
    contact_standard = tick("NSF/ANSI/CAN 61: drinking-water contact")
    lead_free_standard = tick("NSF/ANSI/CAN 372: lead-free")
    domestic_content = tick("Domestic-content papers on file")

    def values(self) -> dict:
        """Return what the operation takes."""
        given = dict(self.cleaned_data)
        material, size, grade = given.pop("pipe").split("|")
        return given | {"material": material, "nominal_in": float(size), "grade": grade}
