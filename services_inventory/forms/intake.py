"""Uploading a file to take in."""

from django import forms
from django.conf import settings

from services_inventory.domain.days import day_told

from ..domain.evidence import Basis
from ..queries.history import before_the_record
from .days import day_field


class UploadForm(forms.Form):
    """A file and what it is."""

    KINDS = (
        ("INTAKE", "service lines"), ("BOUNDARIES", "neighborhood boundaries"),
        ("DOCUMENTS", "photographs or scans of cards"),
    )  # fmt: skip

    kind = forms.ChoiceField(choices=KINDS, label="What is in it")
    file = forms.FileField(
        label="File",
        help_text="Lines: CSV, Excel (.xlsx), GeoPackage, GeoJSON, zipped Shapefile or Parquet. "
        "Boundaries: GeoPackage, GeoJSON or zipped Shapefile. Photographs or scans: a zip of JPEG, "
        "PNG, HEIC or PDF with one CSV of the columns line (location id or address), file, page.",
    )
    source = forms.CharField(
        label="Where its facts come from",
        required=False,
        max_length=100,
        help_text="Used where the file has no column of its own for it: tap cards, "
        f"{Basis.RECORD_PERMIT.label}, {Basis.VISUAL_INSPECTION.label} …",
    )
    true_since = day_field(
        "True since",
        required=False,
        help_text="Of lines. Empty: it counts from the day it is taken in, when it became known. A "
        "day: past days follow, and an amendment of what was filed.",
    )
    sheet = forms.CharField(label="Sheet or layer, if there are several", required=False)
    name_field = forms.CharField(label="Field with the neighborhood's name", required=False)

    def __init__(self, *args, today=None, **more):
        """Keep the latest day that a file can be true since."""
        super().__init__(*args, **more)
        self.today = today

    def clean_true_since(self):
        """Refuse a day to come, and one from before the record begins, before the file is kept."""
        since = self.cleaned_data["true_since"]
        if since and since > self.today:
            raise forms.ValidationError(
                f"{day_told(since)} has not come yet; write a day up to {day_told(self.today)}."
            )
        if since and (sentence := before_the_record(since)):
            raise forms.ValidationError(sentence)
        return since

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
        if data["kind"] == "DOCUMENTS":
            return {}
        if data["kind"] == "BOUNDARIES":
            return {"name_field": data["name_field"], "layer": data["sheet"]}
        since = data["true_since"]
        return {
            "source": data["source"],
            "sheet": data["sheet"],
            "layer": data["sheet"],
            "true_since": since.isoformat() if since else "",
        }
