"""Validation of non-lead lines: a random draw from the pool, looked at in the field."""

from django.db import models

from services_inventory.domain.days import day_told

from .evidence import Document
from .lines import ServiceLine


class ValidationDraw(models.Model):
    """One random draw: the pool as it was, the seed, the required number. Never redrawn.

    `pool_list` is the pool, a CSV of each line's number and location identifier; draws made
    before such lists were kept have the digest alone.
    """

    drawn_on = models.DateField()
    drawn_by = models.CharField(max_length=150)
    seed = models.CharField(max_length=64)
    pool_size = models.PositiveIntegerField()
    pool_sha256 = models.CharField(max_length=64)
    pool_list = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    required = models.PositiveIntegerField()
    due_on = models.DateField(null=True, blank=True)

    def __str__(self):
        return f"draw of {day_told(self.drawn_on)}: {self.required} of {self.pool_size}"


class ValidationPick(models.Model):
    """A drawn line, in order; those beyond the required number are the ordered reserve."""

    class Result(models.TextChoices):
        OPEN = "OPEN", "to be visited"
        CONFIRMED = "CONFIRMED", "confirmed non-lead"
        FOUND_LEAD = "FOUND_LEAD", "found lead"
        FOUND_GRR = "FOUND_GRR", "found galvanized requiring replacement"
        NO_ACCESS = "NO_ACCESS", "no access, replaced from the reserve"

    draw = models.ForeignKey(ValidationDraw, on_delete=models.PROTECT, related_name="picks")
    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="validation_picks")
    position = models.PositiveIntegerField()
    result = models.CharField(max_length=12, choices=Result.choices, default=Result.OPEN)
    result_on = models.DateField(null=True, blank=True)
    points = models.JSONField(default=list)
    recorded_by = models.CharField(max_length=150, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["draw", "position"], name="pick_position_once"),
            models.UniqueConstraint(fields=["draw", "line"], name="pick_line_once"),
        ]

    def __str__(self):
        return f"{self.position}: {self.line_id}"
