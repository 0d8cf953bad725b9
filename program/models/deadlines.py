"""What was done about a deadline that no other record shows."""

from django.db import models

from replacements.models import Withdrawable
from services_inventory.models import Document


class DoneMark(Withdrawable):
    """Staff say when a thing that was due was done, and where the proof is. Taken back, not edited.

    `key` names the deadline (`domain.deadlines.Due.key`), which stays the same however its due
    day moves.
    """

    key = models.CharField(max_length=200)
    what = models.CharField(max_length=200)
    done_on = models.DateField()
    proof = models.CharField(max_length=300)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["key"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="one_done_mark_per_deadline",
            )
        ]

    def __str__(self):
        return f"{self.what}: {self.done_on}"
