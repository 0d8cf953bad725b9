"""Other utilities near the run of an order."""

from django.db import models
from django.db.models import Q

from services_inventory.models.withdrawal import Entry

from ..domain.other_lines import OtherLine, UtilityKind
from .work_orders import WorkOrder


class NearbyLine(Entry):
    """Another utility near the run of an order. Corrected by withdrawing it and recording anew."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="nearby_lines")
    kind = models.CharField(max_length=12, choices=[(k.value, k.label) for k in UtilityKind])
    crossing = models.BooleanField(default=True)
    at_ft = models.FloatField(null=True, blank=True)
    separation_in = models.FloatField(null=True, blank=True)
    exposed = models.BooleanField(default=False)
    rigid = models.BooleanField(default=False)
    relieved = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=[k.value for k in UtilityKind]), name="nearby_line_kind"
            ),
            models.CheckConstraint(
                condition=Q(separation_in__isnull=True) | Q(separation_in__gte=0),
                name="nearby_line_separation",
            ),
        ]

    def __str__(self):
        return self.as_other_line.label

    @property
    def as_other_line(self) -> OtherLine:
        """The line as the rules of the ground read it."""
        return OtherLine(
            kind=UtilityKind(self.kind),
            separation_in=self.separation_in,
            crossing=self.crossing,
            exposed=self.exposed,
            rigid=self.rigid,
            at_ft=self.at_ft,
            relieved=self.relieved,
        )
