"""Getting in, field by field: what a crew may see, what it tried, what the owner said, when."""

from rest_framework import serializers

from ..domain.consent import ConsentState
from ..domain.people import LANGUAGES
from ..models import Appointment, Consent, ContactAttempt
from ..models.access import CAPACITIES
from .from_facts import Day, Moment

CAPACITY_CODES = [code for code, _ in CAPACITIES]


def _language() -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=["", *LANGUAGES], allow_blank=True, default="")


class PersonSerializer(serializers.Serializer):
    """In what capacity and language somebody can be asked; never who it is."""

    capacity = serializers.CharField()
    capacity_label = serializers.CharField()
    language = serializers.CharField(allow_blank=True)
    language_name = serializers.CharField(allow_blank=True)


class AppointmentSerializer(serializers.Serializer):
    """A time somebody is expected at the place."""

    id = serializers.IntegerField()
    purpose = serializers.CharField()
    purpose_label = serializers.CharField(source="get_purpose_display")
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    with_whom = serializers.CharField()
    language = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)
    state = serializers.CharField()
    outcome = serializers.CharField(allow_blank=True)


class AppointmentInSerializer(serializers.Serializer):
    """A time to be booked."""

    purpose = serializers.ChoiceField(choices=Appointment.Purpose.values)
    starts_at = Moment()
    ends_at = Moment()
    with_whom = serializers.ChoiceField(choices=CAPACITY_CODES, default="OWNER")
    language = _language()
    note = serializers.CharField(max_length=200, allow_blank=True, default="")


class AppointmentCloseSerializer(serializers.Serializer):
    """What became of an appointment."""

    state = serializers.ChoiceField(
        choices=[state for state in Appointment.State.values if state != "BOOKED"]
    )
    outcome = serializers.CharField(max_length=200, allow_blank=True, default="")


class ContactAttemptSerializer(serializers.Serializer):
    """An attempt of the company to reach somebody."""

    id = serializers.IntegerField()
    at = serializers.DateTimeField()
    method = serializers.CharField()
    method_label = serializers.CharField(source="get_method_display")
    addressed_to = serializers.CharField()
    language = serializers.CharField(allow_blank=True)
    outcome = serializers.CharField(allow_blank=True)


class ContactAttemptInSerializer(serializers.Serializer):
    """An attempt as it was made."""

    at = Moment()
    method = serializers.ChoiceField(choices=ContactAttempt.Method.values)
    addressed_to = serializers.ChoiceField(choices=CAPACITY_CODES, default="OWNER")
    language = _language()
    outcome = serializers.CharField(max_length=200, allow_blank=True, default="")


class ConsentInSerializer(serializers.Serializer):
    """The owner's answer; consent that is given comes with the signed form."""

    answer = serializers.ChoiceField(choices=Consent.Answer.values)
    answered_on = Day()
    given_by = serializers.CharField(max_length=120, allow_blank=True, default="")
    capacity = serializers.ChoiceField(choices=CAPACITY_CODES, default="OWNER")
    language = _language()
    note = serializers.CharField(max_length=2000, allow_blank=True, default="")
    paper = serializers.FileField(required=False, allow_empty_file=True)


class ConsentSerializer(serializers.Serializer):
    """An answer on record, without who gave it."""

    id = serializers.IntegerField()
    answer = serializers.CharField()
    answered_on = serializers.DateField()
    capacity = serializers.CharField()
    language = serializers.CharField(allow_blank=True)
    documented = serializers.SerializerMethodField()

    def get_documented(self, consent) -> bool:
        """Tell whether a signed form is kept."""
        return consent.document_id is not None


class AccessSerializer(serializers.Serializer):
    """What a crew may see of getting in at an order's place."""

    state = serializers.ChoiceField(choices=[state.value for state in ConsentState])
    may_start = serializers.BooleanField()
    version = serializers.CharField()
    attempts_counted = serializers.IntegerField()
    methods_counted = serializers.IntegerField()
    missing = serializers.CharField(allow_blank=True)
    answer = serializers.CharField(allow_blank=True)
    answered_on = serializers.DateField(allow_null=True)
    answer_capacity = serializers.CharField(allow_blank=True)
    people = PersonSerializer(many=True)
    appointments = AppointmentSerializer(many=True)
    own_attempts = ContactAttemptSerializer(many=True)
