"""A change of owner."""

from django import forms

from services_inventory.forms.days import day_field


class OwnerChangeForm(forms.Form):
    """From which day premises have a new owner, and how that is known."""

    changed_on = day_field("New owner since")
    source = forms.CharField(
        label="How it is known",
        max_length=300,
        help_text="For instance: deed recorded with the county, book and page. No names.",
    )
