"""What was expected of a pull, and what its log showed."""

from datetime import date

from django.db import models
from django.utils import timezone

from services_inventory.models import Document
from services_inventory.models.withdrawal import Entry, Withdrawable

from .tools import ToolStringRecord
from .work_orders import WorkOrder


class ForceEstimateRecord(models.Model):
    """A force estimate as it was given, with the parameter set it came from. Never recomputed."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="estimates")
    parameter_set = models.CharField(max_length=64)
    case = models.JSONField()
    result = models.JSONField()
    verdict = models.CharField(max_length=8)
    low_lbf = models.FloatField()
    expected_lbf = models.FloatField()
    high_lbf = models.FloatField()
    made_by = models.CharField(max_length=150)
    made_at = models.DateTimeField()

    def __str__(self):
        return f"{self.expected_lbf:.0f} lbf ({self.verdict})"


class ModelCalibration(models.Model):
    """What accepted pulls in one soil taught the force model, put into use by a named person.

    Append-only: the latest of a soil counts from its moment on. One without a result takes the
    soil back to the plain model. Estimates made before keep what they were made with.
    """

    soil = models.CharField(max_length=30)
    made_at = models.DateTimeField()
    pulls = models.PositiveIntegerField()
    result = models.JSONField()
    put_in_use_by = models.CharField(max_length=150, blank=True)
    reason = models.CharField(max_length=200, blank=True)

    def __str__(self):
        return f"{self.soil}: {self.pulls} pulls"


class ForceConstants(models.Model):
    """The utility's own constants of the force model, put into use by a named person.

    Append-only: the latest counts from its moment on. `values` holds low, default and high of
    each constant that differs from the shipped one, by code; none takes all back to the shipped.
    `string_limits` holds the limits of tool strings that differ, such as the design factor.
    """

    parameter_set = models.CharField(max_length=64)
    values = models.JSONField(default=dict, blank=True)
    string_limits = models.JSONField(default=dict, blank=True)
    reason = models.CharField(max_length=200)
    put_in_use_by = models.CharField(max_length=150)
    put_in_use_at = models.DateTimeField()

    class Meta:
        permissions = [("set_force_model", "Can put constants and learned factors into use")]

    def __str__(self):
        return self.parameter_set


class PullRecord(Entry):
    """One pull with its log: the machine it was read from, and what the log shows."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="pulls")
    tool_string = models.ForeignKey(
        ToolStringRecord, null=True, blank=True, on_delete=models.PROTECT, related_name="pulls"
    )
    log = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    pulled_on = models.DateField()
    machine = models.JSONField(default=dict, blank=True)
    columns = models.JSONField(default=dict, blank=True)
    length_ft = models.FloatField(null=True, blank=True)
    peak_lbf = models.FloatField(null=True, blank=True)
    p95_lbf = models.FloatField(null=True, blank=True)
    metrics = models.JSONField(default=dict, blank=True)
    findings = models.JSONField(default=list, blank=True)
    verdict = models.CharField(max_length=8, blank=True)
    # What the log says the string went through: over its limit, or a broken cable.
    gear_event = models.CharField(max_length=24, blank=True)
    trace = models.JSONField(default=dict, blank=True)

    def __str__(self):
        return f"pull {self.pk} for {self.work_order_id}"


class LiveFeed(models.Model):
    """The samples of one pull while it happens, as a device sends them or a log is played.

    `plan` holds what the page is held against, fixed when the feed starts; `clock_zero_s` is when
    the device's clock stood at zero, in seconds since the epoch; `trace` holds the highest force
    of each half foot. Samples that were not made a log are removed after their days; the feed
    with its figures stays.
    """

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="live_feeds")
    key = models.CharField(max_length=80)
    is_played = models.BooleanField(default=False)
    plan = models.JSONField()
    started_by = models.CharField(max_length=150)
    started_at = models.DateTimeField()
    last_received_at = models.DateTimeField()
    clock_zero_s = models.FloatField(null=True, blank=True)
    last_sequence = models.PositiveIntegerField(null=True, blank=True)
    last_time_s = models.FloatField(null=True, blank=True)
    sample_count = models.PositiveIntegerField(default=0)
    peak_lbf = models.FloatField(null=True, blank=True)
    peak_ft = models.FloatField(null=True, blank=True)
    trace = models.JSONField(default=dict, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.CharField(max_length=150, blank=True)
    pull = models.OneToOneField(
        PullRecord, null=True, blank=True, on_delete=models.PROTECT, related_name="live_feed"
    )
    samples_removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["work_order", "key"], name="live_feed_once")]

    def __str__(self):
        return f"{self.key} of {self.work_order_id}"

    @property
    def pulled_on(self) -> date:
        """The day of the pull."""
        return timezone.localdate(self.started_at)

    @property
    def recorded_by(self) -> str:
        """Whose device sent it; the same person does not pass it."""
        return self.started_by


class LiveSample(models.Model):
    """One sample of a feed; its sequence tells it apart, so that a repeat changes nothing."""

    feed = models.ForeignKey(LiveFeed, on_delete=models.CASCADE, related_name="samples")
    sequence = models.PositiveIntegerField()
    time_s = models.FloatField()
    force_lbf = models.FloatField()
    distance_ft = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["feed", "sequence"], name="live_sample_once")
        ]
        indexes = [models.Index(fields=["feed", "time_s"], name="live_sample_time")]

    def __str__(self):
        return f"{self.feed_id}: {self.force_lbf:.0f} lbf"


class PullExplanation(Withdrawable):
    """Why a pull that asks for a word may stand, in a named person's words. Append-only.

    Held, rejected or withdrawn by its log, or seen live and never handed in as one.
    """

    pull = models.ForeignKey(
        PullRecord, null=True, blank=True, on_delete=models.PROTECT, related_name="explanations"
    )
    feed = models.ForeignKey(
        LiveFeed, null=True, blank=True, on_delete=models.PROTECT, related_name="explanations"
    )
    why = models.TextField()
    of_utility = models.BooleanField(default=False)
    explained_by = models.CharField(max_length=150)
    explained_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(pull=None) ^ models.Q(feed=None), name="explains_one_pull"
            )
        ]

    def __str__(self):
        return f"{self.of}: {self.why[:40]}"

    @property
    def of(self) -> PullRecord | LiveFeed:
        """What it speaks of."""
        return self.pull or self.feed
