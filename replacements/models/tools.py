"""The contractor's own tools, and the tool string put together for one pull."""

from django.db import models

from services_inventory.models import Document

from .contractors import Contractor
from .tool_life import ToolSet
from .work_orders import WorkOrder


class Component(models.Model):
    """One tool of a contractor: blade, expander, cable, puller … with its rating and wear.

    `dimensions` holds inches and feet by name (`outside_in`, `bore_min_in`, `length_ft` …)
    as `domain.tool_strings` reads them. No maker and no part number: the contractor's
    own mark identifies it.
    """

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="components")
    tool_set = models.ForeignKey(
        ToolSet, null=True, blank=True, on_delete=models.PROTECT, related_name="components"
    )
    kind = models.CharField(max_length=24)
    mark = models.CharField(max_length=60)
    description = models.CharField(max_length=200, blank=True)
    dimensions = models.JSONField(default=dict, blank=True)
    rated_lbf = models.FloatField(null=True, blank=True)
    in_service_since = models.DateField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    retired_reason = models.CharField(max_length=200, blank=True)
    photo = models.ForeignKey(
        Document, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "mark"], name="component_mark_once")
        ]

    def __str__(self):
        from ..domain.tool_strings import Kind, tool_named

        return tool_named(Kind(self.kind), self.mark)

    @property
    def kind_label(self) -> str:
        """The tool's kind in words."""
        from ..domain.tool_strings import Kind

        return Kind(self.kind).label.lower()

    @property
    def code(self) -> str:
        """The short code on its label."""
        from ..domain.tool_codes import code_of

        return code_of(self.pk)


class ComponentChange(models.Model):
    """A correction of a tool's entry: before, after, who and why. Append-only."""

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="changes")
    before = models.JSONField()
    after = models.JSONField()
    reason = models.CharField(max_length=200)
    changed_by = models.CharField(max_length=150)
    changed_at = models.DateTimeField()

    def __str__(self):
        return f"{self.component_id}: {self.reason}"


class ToolStringRecord(models.Model):
    """The tool string used for a work order, part by part. A new one replaces, none is edited."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="tool_strings")
    pulled_end = models.CharField(max_length=10, default="UNKNOWN")
    findings = models.JSONField(default=list, blank=True)
    worst_level = models.CharField(max_length=8, blank=True)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    def __str__(self):
        return f"tool string {self.pk} for {self.work_order_id}"


class ToolStringPart(models.Model):
    """A part in its place in the string, counted from the pulling side."""

    tool_string = models.ForeignKey(
        ToolStringRecord, on_delete=models.CASCADE, related_name="parts"
    )
    position = models.PositiveSmallIntegerField()
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="uses")
    orientation = models.CharField(max_length=24, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tool_string", "position"], name="part_position_once")
        ]

    def __str__(self):
        return f"{self.position}: {self.component_id}"

    @property
    def orientation_label(self) -> str:
        """How the part is turned, in words."""
        return self.orientation.replace("_", " ").lower()


class AssemblyAnswer(models.Model):
    """One row of the assembly checklist, answered by name and time. Append-only."""

    tool_string = models.ForeignKey(
        ToolStringRecord, on_delete=models.CASCADE, related_name="answers"
    )
    check_key = models.CharField(max_length=40)
    passed = models.BooleanField(null=True)
    measured = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    answered_by = models.CharField(max_length=150)
    answered_at = models.DateTimeField()

    def __str__(self):
        return f"{self.check_key}: {self.passed}"
