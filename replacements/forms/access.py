"""Attempts to reach the owner, the answer, who can be asked, and appointments."""

from django import forms

from services_inventory.forms.days import day_field

from ..domain.people import LANGUAGES as SPOKEN
from ..models import Appointment, Consent, ContactAttempt
from ..models.access import CAPACITIES as WHOM
from .fields import moment, words

LANGUAGES = [("", "not stated"), *SPOKEN.items()]


def _language() -> forms.ChoiceField:
    return forms.ChoiceField(label="Language", choices=LANGUAGES, required=False)


class AttemptForm(forms.Form):
    """One attempt."""

    at = moment("When")
    method = forms.ChoiceField(label="How", choices=ContactAttempt.Method.choices)
    addressed_to = forms.ChoiceField(label="Whom", choices=WHOM)
    language = _language()
    outcome = forms.CharField(label="What came of it", max_length=200, required=False)


class ConsentForm(forms.Form):
    """The owner's answer, with its paper."""

    answer = forms.ChoiceField(label="Answer", choices=Consent.Answer.choices)
    answered_on = day_field("On")
    given_by = forms.CharField(label="By whom", max_length=120, required=False)
    capacity = forms.ChoiceField(label="In what capacity", choices=WHOM)
    language = _language()
    paper = forms.FileField(
        label="Signed form", required=False, help_text="JPEG, PNG, HEIC or PDF, up to 25 MB."
    )
    note = words("Note", rows=2)


class PersonForm(forms.Form):
    """Somebody who can be asked about a line."""

    capacity = forms.ChoiceField(label="Who it is", choices=WHOM)
    name = forms.CharField(label="Name", max_length=120)
    phone = forms.CharField(label="Telephone", max_length=40, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    language = _language()


class AppointmentForm(forms.Form):
    """A time somebody is expected."""

    purpose = forms.ChoiceField(label="For", choices=Appointment.Purpose.choices)
    starts_at = moment("From")
    ends_at = moment("To")
    with_whom = forms.ChoiceField(label="With whom", choices=WHOM)
    language = _language()
    note = forms.CharField(
        label="How to get in",
        max_length=200,
        required=False,
        help_text="Which door, a dog, steps. No names and no telephone numbers.",
    )


class AppointmentCloseForm(forms.Form):
    """What became of an appointment."""

    state = forms.ChoiceField(
        label="What became of it",
        choices=[c for c in Appointment.State.choices if c[0] != Appointment.State.BOOKED],
    )
    outcome = forms.CharField(label="In a few words", max_length=200, required=False)
