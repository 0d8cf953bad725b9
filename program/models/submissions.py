"""The annual submission: frozen, certified, never rewritten."""

from django.db import models

from services_inventory.models.withdrawal import Withdrawable


class Submission(models.Model):
    """One submission for a calendar year; an amendment is a new revision that says what changed."""

    class State(models.TextChoices):
        DRAFT = "DRAFT", "draft"
        FROZEN = "FROZEN", "frozen"
        CERTIFIED = "CERTIFIED", "certified"
        REPLACED = "REPLACED", "replaced by an amendment"

    year = models.PositiveSmallIntegerField()
    revision = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    as_of = models.DateField()
    known_at = models.DateTimeField(null=True, blank=True)
    facts = models.JSONField(default=dict, blank=True)
    open_questions = models.JSONField(default=list, blank=True)
    what_changed = models.TextField(blank=True)
    digest = models.CharField(max_length=64, blank=True)
    previous_digest = models.CharField(max_length=64, blank=True)
    frozen_by = models.CharField(max_length=150, blank=True)
    frozen_at = models.DateTimeField(null=True, blank=True)
    certified_by = models.CharField(max_length=150, blank=True)
    certified_title = models.CharField(max_length=150, blank=True)
    certified_statement = models.TextField(blank=True)
    certified_at = models.DateTimeField(null=True, blank=True)
    batch = models.ForeignKey(
        "services_inventory.Batch", null=True, blank=True, on_delete=models.PROTECT
    )

    class Meta:
        permissions = [
            ("prepare_submission", "Can draft and freeze an annual submission"),
            ("certify_submission", "Can certify an annual submission"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["year", "revision"], name="submission_revision_once")
        ]

    def __str__(self):
        return f"{self.year} revision {self.revision}"


class SubmissionFile(models.Model):
    """A file of a frozen submission, by content."""

    submission = models.ForeignKey(Submission, on_delete=models.PROTECT, related_name="files")
    kind = models.CharField(max_length=20)
    path = models.CharField(max_length=300)
    sha256 = models.CharField(max_length=64)
    bytes = models.BigIntegerField()
    rows = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["submission", "kind"], name="file_kind_once")
        ]

    def __str__(self):
        return f"{self.kind} of {self.submission_id}"


class ValueTick(Withdrawable):
    """Staff read the rule's own text for a value: what it says there, and whether it agrees.

    Append-only: the latest that was not taken back holds, and only while the value is what it
    was when it was read. `text` is the paragraph as it was pasted; `confirms` is False where the
    text says something else.
    """

    value_id = models.CharField(max_length=80, db_index=True)
    value = models.CharField(max_length=200)
    confirms = models.BooleanField(default=True)
    citation = models.CharField(max_length=200, blank=True)
    text = models.TextField(blank=True)
    read_where = models.CharField(max_length=300)
    ticked_by = models.CharField(max_length=150)
    ticked_at = models.DateTimeField()

    def __str__(self):
        return self.value_id
