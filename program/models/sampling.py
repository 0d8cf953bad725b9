"""Tap sampling: monitoring periods, a laboratory's results, what was learned of them."""

from django.db import models
from django.db.models import Q

from services_inventory.models import Document, ServiceLine
from services_inventory.models.withdrawal import Entry, once_standing, says_why


class SamplingPeriod(Entry):
    """A tap monitoring period and how many sites it asks for. Taken back, never edited."""

    first_day = models.DateField()
    last_day = models.DateField()
    required = models.PositiveIntegerField()
    reduced = models.BooleanField(default=False)

    class Meta:
        permissions = [("record_samples", "Can record tap samples, exceedances and outreach")]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=models.F("first_day")), name="period_ends_after_it_begins"
            ),
            says_why("withdrawn_period_says_why"),
        ]

    def __str__(self):
        return f"{self.first_day} to {self.last_day}"


class ResultFile(Entry):
    """A laboratory's file, taken in as a whole and taken back as a whole."""

    document = models.ForeignKey(Document, on_delete=models.PROTECT)
    received_on = models.DateField()
    rows = models.PositiveIntegerField()
    notes = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            once_standing("document", name="result_file_once"),
            says_why("withdrawn_results_say_why"),
        ]

    def __str__(self):
        return f"results of {self.received_on}"


class TapResult(models.Model):
    """One metal in one bottle, as the laboratory wrote it; the tier of its site on that day.

    `micrograms` is the limit where `below` says that less was found.
    """

    class Purpose(models.TextChoices):
        COMPLIANCE = "COMPLIANCE", "for a monitoring period"
        FOLLOW_UP = "FOLLOW_UP", "after a replacement, or a site sampled again"
        REQUESTED = "REQUESTED", "asked for by a customer"

    file = models.ForeignKey(ResultFile, on_delete=models.PROTECT, related_name="results")
    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="tap_results")
    row = models.PositiveIntegerField()
    sampled_on = models.DateField(db_index=True)
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    tier = models.PositiveSmallIntegerField(null=True)
    tier_reason = models.CharField(max_length=200)
    liter = models.PositiveSmallIntegerField(default=1)
    metal = models.CharField(max_length=6)
    written = models.CharField(max_length=60)
    micrograms = models.DecimalField(max_digits=14, decimal_places=6)
    below = models.BooleanField(default=False)
    number = models.CharField(max_length=60, blank=True)

    def __str__(self):
        return f"{self.metal} {self.written}, {self.sampled_on}"

    @property
    def metal_label(self) -> str:
        """The metal in words."""
        return self.metal.capitalize()


class Invalidation(Entry):
    """A result that does not count, with the reason. Taken back, it counts again."""

    class Ground(models.TextChoices):
        LABORATORY = "LABORATORY", "improper analysis at the laboratory"
        SITE = "SITE", "the site did not meet the criteria"
        DAMAGED = "DAMAGED", "the bottle was damaged on the way"
        TAMPERED = "TAMPERED", "reason to believe that the sample was tampered with"

    result = models.ForeignKey(TapResult, on_delete=models.PROTECT, related_name="invalidations")
    ground = models.CharField(max_length=10, choices=Ground.choices)
    decided_on = models.DateField()
    decision = models.CharField(max_length=300)

    class Meta:
        constraints = [
            once_standing("result", name="one_invalidation_of_a_result"),
            says_why("withdrawn_invalidation_says_why"),
        ]

    def __str__(self):
        return f"{self.get_ground_display()}, {self.decided_on}"


class Exceedance(Entry):
    """The system learned that a period's 90th percentile is above the action level of a metal.

    From here run the clocks; they stop when somebody takes it back, never by themselves.
    """

    period = models.ForeignKey(SamplingPeriod, on_delete=models.PROTECT, related_name="exceedances")
    metal = models.CharField(max_length=6, default="LEAD", db_default="LEAD")
    learned_at = models.DateTimeField()
    found = models.CharField(max_length=200)

    class Meta:
        constraints = [
            once_standing("period", "metal", name="one_exceedance_of_a_period"),
            says_why("withdrawn_exceedance_says_why"),
        ]

    def __str__(self):
        return f"exceedance learned {self.learned_at}"
