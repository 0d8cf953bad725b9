"""Why a record is taken back."""

from django import forms


class TakeBackForm(forms.Form):
    """Why a record is taken back."""

    reason = forms.CharField(
        label="Why it is taken back",
        max_length=300,
        error_messages={"required": "Say why; the reason stays with the record."},
    )
