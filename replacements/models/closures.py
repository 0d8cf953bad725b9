"""Block faces on which nobody may dig for some days."""

from string import capwords

from django.db import models
from django.db.models import F, Q

from services_inventory.models import Batch
from services_inventory.models.withdrawal import Entry

from ..domain.closures import ClosedFace, Side


class StreetClosure(Entry):
    """A block face closed to digging. Corrected by withdrawing it and recording anew."""

    street_key = models.CharField(max_length=120)
    first_number = models.IntegerField(null=True, blank=True)
    last_number = models.IntegerField(null=True, blank=True)
    side = models.CharField(max_length=4, choices=[(s.value, s.label) for s in Side])
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=200, blank=True)
    batch = models.ForeignKey(Batch, null=True, blank=True, on_delete=models.PROTECT)

    class Meta:
        indexes = [models.Index(fields=["street_key", "last_day"], name="closure_street")]
        constraints = [
            models.CheckConstraint(
                condition=Q(side__in=[s.value for s in Side]), name="closure_side"
            ),
            models.CheckConstraint(
                condition=Q(first_day__lte=F("last_day")), name="closure_days_in_order"
            ),
            models.CheckConstraint(
                condition=Q(first_number__isnull=True, last_number__isnull=True)
                | Q(first_number__lte=F("last_number")),
                name="closure_numbers_in_order",
            ),
        ]

    def __str__(self):
        return self.as_face.sentence

    @property
    def as_face(self) -> ClosedFace:
        """The closure as the rules read it."""
        return ClosedFace(
            capwords(self.street_key), self.first_number, self.last_number, Side(self.side),
            self.first_day, self.last_day, self.reason,
        )  # fmt: skip
