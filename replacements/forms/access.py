"""Attempts to reach the owner, and the answer."""

from django import forms

from ..models import Consent, ContactAttempt
from .fields import day, words

WHOM = [("OWNER", "owner"), ("TENANT", "tenant"), ("MANAGER", "manager of the building")]
LANGUAGES = [("", "not stated"), ("en", "English"), ("es", "Spanish"), ("other", "another")]


class AttemptForm(forms.Form):
    """One attempt."""

    at = forms.DateTimeField(
        label="When", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )
    method = forms.ChoiceField(label="How", choices=ContactAttempt.Method.choices)
    addressed_to = forms.ChoiceField(label="Whom", choices=WHOM)
    outcome = forms.CharField(label="What came of it", max_length=200, required=False)


class ConsentForm(forms.Form):
    """The owner's answer, with its paper."""

    answer = forms.ChoiceField(label="Answer", choices=Consent.Answer.choices)
    answered_on = day("On")
    given_by = forms.CharField(label="By whom", max_length=120, required=False)
    capacity = forms.ChoiceField(label="In what capacity", choices=WHOM)
    language = forms.ChoiceField(label="Language", choices=LANGUAGES, required=False)
    paper = forms.FileField(
        label="Signed form", required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
    )
    note = words("Note", rows=2)
