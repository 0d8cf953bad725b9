"""What was done about a deadline that no other record shows."""

from django.db import models

from services_inventory.models import Document
from services_inventory.models.withdrawal import Entry, once_standing


class DoneMark(Entry):
    """Staff say when a thing that was due was done, and where the proof is. Taken back, not edited.

    `key` names the deadline (`domain.deadlines.Due.key`), which stays the same however its due
    day moves.
    """

    key = models.CharField(max_length=200)
    what = models.CharField(max_length=200)
    done_on = models.DateField()
    proof = models.CharField(max_length=300)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)

    class Meta:
        constraints = [once_standing("key", name="one_done_mark_per_deadline")]

    def __str__(self):
        return f"{self.what}: {self.done_on}"
