"""The replacement plan as a document: what staff write, and what was frozen of it."""

from django.db import models


class PlanText(models.Model):
    """What staff wrote on one element of the plan; each saving is a new version. Append-only."""

    element = models.CharField(max_length=40)
    version = models.PositiveIntegerField()
    text = models.TextField(blank=True)
    taken_from = models.CharField(max_length=300, blank=True)
    written_by = models.CharField(max_length=150)
    written_at = models.DateTimeField()

    class Meta:
        permissions = [("write_plan", "Can write and freeze the replacement plan document")]
        constraints = [
            models.UniqueConstraint(fields=["element", "version"], name="plan_text_once")
        ]

    def __str__(self):
        return f"{self.element}, version {self.version}"


class PlanDocument(models.Model):
    """One frozen replacement plan document: the PDF by content, and everything printed in it."""

    number = models.PositiveIntegerField(unique=True)
    as_of = models.DateField()
    facts = models.JSONField()
    missing = models.JSONField(default=list, blank=True)
    what_changed = models.TextField(blank=True)
    path = models.CharField(max_length=300)
    sha256 = models.CharField(max_length=64)
    bytes = models.PositiveBigIntegerField()
    pages = models.PositiveIntegerField()
    previous_sha256 = models.CharField(max_length=64, blank=True)
    frozen_by = models.CharField(max_length=150)
    frozen_at = models.DateTimeField()
    published_by = models.CharField(max_length=150, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return f"Replacement plan document {self.number}"

    @property
    def is_draft(self) -> bool:
        """Whether something was missing when it was frozen."""
        return any(one["blocks"] for one in self.missing)


class PlanStatement(models.Model):
    """What was certified of the plan for a year: updated, or unchanged since. Append-only."""

    class Says(models.TextChoices):
        UPDATED = "UPDATED", "The plan is updated with new information"
        UNCHANGED = "UNCHANGED", "Nothing in the plan has changed"

    document = models.ForeignKey(PlanDocument, on_delete=models.PROTECT, related_name="statements")
    year = models.PositiveSmallIntegerField()
    says = models.CharField(max_length=10, choices=Says.choices)
    name = models.CharField(max_length=120)
    title = models.CharField(max_length=150)
    statement = models.TextField()
    stated_by = models.CharField(max_length=150)
    stated_at = models.DateTimeField()

    def __str__(self):
        return f"{self.get_says_display()} ({self.year}, document {self.document_id})"
