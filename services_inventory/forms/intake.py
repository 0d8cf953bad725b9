"""Uploading a file to take in."""

from django import forms
from django.conf import settings

from ..domain.evidence import Basis


class UploadForm(forms.Form):
    """A file and what it is."""

    KINDS = (("INTAKE", "service lines"), ("BOUNDARIES", "neighborhood boundaries"))

    kind = forms.ChoiceField(choices=KINDS, label="What is in it")
    file = forms.FileField(
        label="File",
        help_text="Lines: CSV, Excel (.xlsx), GeoPackage, GeoJSON, zipped Shapefile or Parquet. "
        "Boundaries: GeoPackage, GeoJSON or zipped Shapefile.",
    )
    source = forms.CharField(
        label="Where its facts come from",
        required=False,
        max_length=100,
        help_text="Used where the file has no column of its own for it: tap cards, "
        f"{Basis.RECORD_PERMIT.label}, {Basis.VISUAL_INSPECTION.label} …",
    )
    sheet = forms.CharField(label="Sheet or layer, if there are several", required=False)
    name_field = forms.CharField(label="Field with the neighborhood's name", required=False)

    def clean_file(self):
        """Refuse a file above the size limit before it is kept."""
        file = self.cleaned_data["file"]
        limit = settings.UPLOAD_MAX_BYTES
        if file.size > limit:
            raise forms.ValidationError(
                f"The file has {file.size / 1024**2:,.0f} MB; at most "
                f"{limit / 1024**2:,.0f} MB can be uploaded. Use the take_in command instead."
            )
        return file

    def parameters(self) -> dict:
        """Return what the batch needs to know beside its file."""
        data = self.cleaned_data
        if data["kind"] == "BOUNDARIES":
            return {"name_field": data["name_field"], "layer": data["sheet"]}
        return {"source": data["source"], "sheet": data["sheet"], "layer": data["sheet"]}
