"""Getting in: attempts to reach the owner or occupant, and the consent they gave or refused."""

from django.db import models

from services_inventory.models import Document, ServiceLine


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
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()
    contractor = models.ForeignKey(
        "replacements.Contractor", null=True, blank=True, on_delete=models.PROTECT
    )

    def __str__(self):
        return f"{self.get_method_display()} on {self.at:%Y-%m-%d}"


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
