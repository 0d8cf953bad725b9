"""Who owns the premises: a change of owner starts the asking anew."""

from django.db import models

from services_inventory.models import Document, Premise
from services_inventory.models.withdrawal import Entry, once_standing, says_why


class OwnerChange(Entry):
    """A premises passed to a new owner on a day. Taken back with a reason, never edited.

    No name is kept: the rule turns on the day alone.
    """

    premise = models.ForeignKey(Premise, on_delete=models.PROTECT, related_name="owner_changes")
    changed_on = models.DateField()
    source = models.CharField(max_length=300)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)

    class Meta:
        constraints = [
            once_standing("premise", "changed_on", name="one_change_of_owner_a_day"),
            says_why("withdrawn_owner_change_says_why"),
        ]

    def __str__(self):
        return f"premise {self.premise_id}: new owner on {self.changed_on}"
