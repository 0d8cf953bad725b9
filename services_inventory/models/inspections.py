"""Inspections ordered: somebody shall look at a pipe that the records don't show."""

from django.db import models
from django.db.models import Exists, OuterRef

from services_inventory.domain.evidence import bases

from .evidence import Evidence
from .lines import ServiceLine
from .withdrawal import Entry, WithdrawableQuerySet, says_why


class InspectionOrderQuerySet(WithdrawableQuerySet):
    """Reads of inspections ordered."""

    def with_answers(self):
        """Add whether somebody has looked since: evidence of an inspection that stands."""
        looked = [basis.value for basis, traits in bases().items() if traits.inspection]
        seen = Evidence.objects.filter(
            line=OuterRef("line"),
            recorded_at__gt=OuterRef("recorded_at"),
            basis__in=looked,
            withdraws__isnull=True,
            withdrawn_by__isnull=True,
        ).exclude(batch__withdrawn_by__isnull=False)
        return self.annotate(answered=Exists(seen))

    def waiting(self):
        """Keep those that stand, of lines still unknown, that nothing seen has answered."""
        return self.standing().with_answers().filter(answered=False, line__category="UNKNOWN")


class InspectionOrder(Entry):
    """An inspection of a line that was ordered. Taken back with a reason, never edited.

    It is answered by evidence: what an inspection showed, recorded after it. Nobody is sent to a
    line that a record has settled since. Where either is withdrawn, the order waits again.
    """

    line = models.ForeignKey(
        ServiceLine, on_delete=models.PROTECT, related_name="inspection_orders"
    )
    look_at = models.CharField(max_length=300, blank=True)

    objects = InspectionOrderQuerySet.as_manager()

    class Meta:
        constraints = [says_why("withdrawn_inspection_order_says_why")]

    def __str__(self):
        return f"inspection of line {self.line_id}"
