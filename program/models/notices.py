"""Notices to the people served: who must get which, by when, and proof that they got it."""

from django.db import models


class NoticeSlot(models.Model):
    """Text that the rule prescribes, filled by staff from their primacy agency's wording."""

    kind = models.CharField(max_length=30)
    slot = models.CharField(max_length=40)
    language = models.CharField(max_length=8, default="en")
    text = models.TextField(blank=True)
    taken_from = models.CharField(max_length=300, blank=True)
    filled_by = models.CharField(max_length=150)
    filled_at = models.DateTimeField()

    class Meta:
        permissions = [("send_notices", "Can prepare and send notices")]
        constraints = [
            models.UniqueConstraint(fields=["kind", "slot", "language"], name="slot_once")
        ]

    def __str__(self):
        return f"{self.kind} {self.slot} ({self.language})"


class NoticeBatch(models.Model):
    """One printing of letters."""

    kind = models.CharField(max_length=30)
    year = models.PositiveSmallIntegerField()
    batch = models.ForeignKey("services_inventory.Batch", null=True, on_delete=models.PROTECT)
    made_by = models.CharField(max_length=150)
    made_at = models.DateTimeField()
    letters = models.PositiveIntegerField(default=0)

    def __str__(self):
        return f"{self.kind} {self.year}"


class Notice(models.Model):
    """One notice owed to or sent to the persons served at one line."""

    line = models.ForeignKey(
        "services_inventory.ServiceLine", on_delete=models.PROTECT, related_name="notices"
    )
    kind = models.CharField(max_length=30)
    due_on = models.DateField()
    rule_id = models.CharField(max_length=80)
    how_computed = models.TextField(blank=True)
    notice_batch = models.ForeignKey(
        NoticeBatch, null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    delivered_on = models.DateField(null=True, blank=True)
    delivered_by = models.CharField(max_length=30, blank=True)
    returned_on = models.DateField(null=True, blank=True)
    recorded_by = models.CharField(max_length=150, blank=True)

    class Meta:
        indexes = [models.Index(fields=["delivered_on", "due_on"], name="notice_due")]
        constraints = [
            models.UniqueConstraint(fields=["line", "kind", "due_on"], name="notice_once")
        ]

    def __str__(self):
        return f"{self.kind} for {self.line_id} by {self.due_on}"
