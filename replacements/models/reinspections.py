"""Accepted work that is looked at again: drawn at random, visited by somebody else."""

from django.db import models
from django.db.models import Q

from services_inventory.models import Document

from .completions import CompletionRecord
from .contractors import Contractor


class ReinspectionDraw(models.Model):
    """One random draw of accepted records; anybody can repeat it from seed and records."""

    contractor = models.ForeignKey(
        Contractor, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    first_day = models.DateField()
    last_day = models.DateField()
    share_percent = models.FloatField()
    seed = models.CharField(max_length=80)
    records = models.PositiveIntegerField()
    records_sha256 = models.CharField(max_length=64)
    required = models.PositiveIntegerField()
    drawn_on = models.DateField()
    drawn_by = models.CharField(max_length=150)
    drawn_at = models.DateTimeField()

    def __str__(self):
        return f"draw of {self.drawn_on}"


class Reinspection(models.Model):
    """One drawn record and what was seen when somebody looked again."""

    class Result(models.TextChoices):
        AS_RECORDED = "AS_RECORDED", "as recorded"
        DIFFERS = "DIFFERS", "differs from the record"
        NO_ACCESS = "NO_ACCESS", "could not be seen"

    draw = models.ForeignKey(ReinspectionDraw, on_delete=models.PROTECT, related_name="picks")
    completion = models.ForeignKey(
        CompletionRecord, on_delete=models.PROTECT, related_name="reinspections"
    )
    position = models.PositiveIntegerField()
    result = models.CharField(max_length=12, choices=Result.choices, blank=True)
    seen_on = models.DateField(null=True, blank=True)
    seen_by = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    recorded_by = models.CharField(max_length=150, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["draw", "position"], name="reinspection_place_once"),
            models.UniqueConstraint(
                fields=["draw", "completion"], name="reinspected_once_in_a_draw"
            ),
            models.CheckConstraint(
                condition=Q(result__in=("", "AS_RECORDED")) | ~Q(note=""),
                name="reinspection_says_what_differs",
            ),
        ]

    def __str__(self):
        return f"place {self.position} of draw {self.draw_id}"
