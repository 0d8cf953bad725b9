"""Drawing accepted work to look at again, and what was seen."""

from django import forms

from services_inventory.forms.days import day_field

from ..models import Contractor, Reinspection
from .fields import figure, words


class DrawForm(forms.Form):
    """A random draw of accepted work."""

    first_day = day_field("Work finished from")
    last_day = day_field("to")
    contractor = forms.ModelChoiceField(
        label="Company", queryset=Contractor.objects.order_by("name"), required=False,
        empty_label="every company",
    )  # fmt: skip
    share_percent = figure("Share, percent", required=True, initial=5, max_value=100)
    seed = forms.CharField(
        label="Seed", max_length=80, help_text="Any words; kept, so that the draw can be repeated."
    )


class ResultForm(forms.Form):
    """What was seen when somebody looked again."""

    result = forms.ChoiceField(label="Result", choices=Reinspection.Result.choices)
    seen_on = day_field("Seen on")
    seen_by = forms.CharField(label="By whom", max_length=120)
    note = words("What differs, or what was tried", rows=2)
    paper = forms.FileField(
        label="Photo or paper", required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
    )
