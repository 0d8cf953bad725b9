"""Rows that may belong to a line we know, waiting for a person to say which."""

from django.db import models

from .batches import Batch
from .lines import ServiceLine


class MatchQuestion(models.Model):
    """An input row without a sure match: scored candidates, and the remembered decision."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="match_questions")
    row_number = models.PositiveIntegerField()
    given_key = models.CharField(max_length=200, db_index=True)
    given = models.JSONField()
    candidates = models.JSONField(default=list)
    decided_line = models.ForeignKey(ServiceLine, null=True, blank=True, on_delete=models.PROTECT)
    decided_new = models.BooleanField(default=False)
    decided_by = models.CharField(max_length=150, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return f"row {self.row_number} of batch {self.batch_id}"
