"""Who owns the premises: a change of owner starts the asking anew."""

from django.db import models
from django.db.models import Q

from services_inventory.models import Document, Premise

from .withdrawal import Withdrawable


class OwnerChange(Withdrawable):
    """A premises passed to a new owner on a day. Taken back with a reason, never edited.

    No name is kept: the rule turns on the day alone.
    """

    premise = models.ForeignKey(Premise, on_delete=models.PROTECT, related_name="owner_changes")
    changed_on = models.DateField()
    source = models.CharField(max_length=300)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["premise", "changed_on"],
                condition=Q(withdrawn_at__isnull=True),
                name="one_change_of_owner_a_day",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawn_reason=""),
                name="withdrawn_owner_change_says_why",
            ),
        ]

    def __str__(self):
        return f"premise {self.premise_id}: new owner on {self.changed_on}"
