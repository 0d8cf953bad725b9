"""What was done about a deadline that no other record shows."""

from django.db import models


class DoneMark(models.Model):
    """Staff say when a thing that was due was done, and where the proof is. Taken back, not edited.

    `key` names the deadline (`domain.deadlines.Due.key`), which stays the same however its due
    day moves.
    """

    key = models.CharField(max_length=200)
    what = models.CharField(max_length=200)
    done_on = models.DateField()
    proof = models.CharField(max_length=300)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()
    withdrawn_by = models.CharField(max_length=150, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

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
