"""What files said a line's category is, beside the category that its evidence gives it."""

from django.db import models

from ..domain.categories import Category
from ..domain.classification import UnknownLabel
from .lines import ServiceLine

SAID = [(one.value, one.label) for one in Category]
LABELS = [(one.value, one.label) for one in UnknownLabel]


class SaidCategory(models.Model):
    """One row of a file gave its line a category of its own, or supposed something of it.

    It is never taken as the line's category: it is kept where it differs from that, or where
    it says more ("unknown, could be lead"), to be worked through. The last file's word counts.
    One is taken back with its file, with the answer that its row means this line, and with the
    word of the utility's own that it was read by.
    """

    line = models.ForeignKey(
        ServiceLine, on_delete=models.PROTECT, related_name="said_categories", db_index=False
    )
    said = models.CharField(max_length=8, choices=SAID, blank=True)
    label = models.CharField(max_length=20, choices=LABELS, blank=True)
    batch = models.ForeignKey("services_inventory.Batch", on_delete=models.PROTECT, db_index=False)
    row_number = models.PositiveIntegerField()
    taken_back = models.BooleanField(default=False, db_default=False)

    class Meta:
        indexes = [models.Index(fields=["line", "-id"], name="said_of_line")]

    def __str__(self):
        return f"row {self.row_number}: {self.said} {self.label}".strip()
