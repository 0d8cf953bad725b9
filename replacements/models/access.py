"""Getting in: attempts to reach the owner or occupant, and the consent they gave or refused."""

from django.db import models
from django.db.models import F, Q

from services_inventory.domain.days import day_told
from services_inventory.models import Document, ServiceLine

from ..domain.people import LANGUAGES, Capacity

CAPACITIES = [(capacity.value, capacity.label) for capacity in Capacity]
_LANGUAGES = [("", "not stated"), *LANGUAGES.items()]


class Person(models.Model):
    """Somebody who can be asked about a line. Crews see the capacity and the language only."""

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="people")
    capacity = models.CharField(max_length=8, choices=CAPACITIES)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=8, choices=_LANGUAGES, blank=True)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()
    left_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "people"

    def __str__(self):
        return f"{self.get_capacity_display()} of line {self.line_id}"


class ContactAttempt(models.Model):
    """One attempt to reach somebody about a replacement. Append-only."""

    class Method(models.TextChoices):
        IN_PERSON = "IN_PERSON", "in person"
        PHONE = "PHONE", "phone"
        TEXT = "TEXT", "text message"
        EMAIL = "EMAIL", "e-mail"
        LETTER = "LETTER", "letter"
        POSTCARD = "POSTCARD", "postcard"
        DOOR_HANGER = "DOOR_HANGER", "door hanger"

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="contact_attempts")
    at = models.DateTimeField()
    method = models.CharField(max_length=12, choices=Method.choices)
    addressed_to = models.CharField(max_length=20, default="OWNER")
    outcome = models.CharField(max_length=200, blank=True)
    language = models.CharField(max_length=8, blank=True, default="", db_default="")
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()
    contractor = models.ForeignKey(
        "replacements.Contractor", null=True, blank=True, on_delete=models.PROTECT
    )

    def __str__(self):
        return f"{self.get_method_display()} on {day_told(self.at)}"


class Consent(models.Model):
    """The owner's answer: given or refused, by whom, when, on which paper. Append-only."""

    class Answer(models.TextChoices):
        GIVEN = "GIVEN", "given"
        REFUSED = "REFUSED", "refused"
        REVOKED = "REVOKED", "taken back"

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="consents")
    answer = models.CharField(max_length=8, choices=Answer.choices)
    given_by = models.CharField(max_length=120, blank=True)
    capacity = models.CharField(max_length=20, default="OWNER")
    answered_on = models.DateField()
    language = models.CharField(max_length=8, blank=True)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    note = models.TextField(blank=True)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    def __str__(self):
        return f"{self.get_answer_display()} on {self.answered_on}"


class Appointment(models.Model):
    """A time somebody is expected at a place: for consent, for the work, or afterwards."""

    class Purpose(models.TextChoices):
        CONSENT = "CONSENT", "talk about consent"
        WORK = "WORK", "the work"
        AFTER = "AFTER", "sample, flush or repair after the work"

    class State(models.TextChoices):
        BOOKED = "BOOKED", "booked"
        KEPT = "KEPT", "kept"
        MISSED = "MISSED", "nobody came or was home"
        CANCELED = "CANCELED", "called off"

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="appointments")
    contractor = models.ForeignKey(
        "replacements.Contractor", null=True, blank=True, on_delete=models.PROTECT
    )
    purpose = models.CharField(max_length=8, choices=Purpose.choices)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    with_whom = models.CharField(max_length=8, choices=CAPACITIES, default="OWNER")
    language = models.CharField(max_length=8, choices=_LANGUAGES, blank=True)
    note = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.BOOKED)
    outcome = models.CharField(max_length=200, blank=True)
    booked_by = models.CharField(max_length=150)
    booked_at = models.DateTimeField()
    closed_by = models.CharField(max_length=150, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="appointment_ends_after_it_starts"
            )
        ]
        indexes = [models.Index(fields=["line", "starts_at"], name="appointment_line_start")]

    def __str__(self):
        return f"{self.get_purpose_display()} at {day_told(self.starts_at)}, {self.starts_at:%H:%M}"
