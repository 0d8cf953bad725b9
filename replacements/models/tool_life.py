"""What a tool has been through: inspections, renewed parts, papers of its rating; tool sets."""

from django.db import models

from services_inventory.models import Document
from services_inventory.models.withdrawal import Entry, Withdrawable

from .contractors import Contractor


class ToolSet(models.Model):
    """A contractor's set of tools that belong together, under the contractor's own name for it."""

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="tool_sets")
    name = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "name"], name="tool_set_name_once")
        ]

    def __str__(self):
        return self.name


class ToolSetFacts(Withdrawable):
    """Set-up facts of a tool set as read from its maker's instructions; the latest standing counts.

    `facts` holds low, high and words by row of the checklist, `groups` old_in and new_in of each
    group of tools, None where the instructions say nothing of them.
    """

    tool_set = models.ForeignKey(ToolSet, on_delete=models.PROTECT, related_name="facts")
    instructions = models.CharField(max_length=200)
    facts = models.JSONField(default=dict, blank=True)
    groups = models.JSONField(null=True, blank=True)
    entered_by = models.CharField(max_length=150)
    entered_at = models.DateTimeField()

    def __str__(self):
        return f"{self.tool_set_id}: {self.instructions}"


class ComponentInspection(Entry):
    """An inspection of a component: what was looked at, found what, passed or not, next due.

    by_competent_person : who inspected may judge it after an overload
    """

    component = models.ForeignKey(
        "replacements.Component", on_delete=models.PROTECT, related_name="inspections"
    )
    inspected_on = models.DateField()
    inspected_by = models.CharField(max_length=120)
    by_competent_person = models.BooleanField(default=False)
    looked_at = models.CharField(max_length=300, blank=True)
    passed = models.BooleanField()
    findings = models.JSONField(default=dict, blank=True)
    next_due_on = models.DateField(null=True, blank=True)

    def __str__(self):
        return f"{self.component_id} on {self.inspected_on}"


class ComponentRenewal(Entry):
    """A wear part of a component renewed: O-rings changed, an end crimped on anew."""

    component = models.ForeignKey(
        "replacements.Component", on_delete=models.PROTECT, related_name="renewals"
    )
    part = models.CharField(max_length=20)
    done_on = models.DateField()
    done_by = models.CharField(max_length=120)
    note = models.CharField(max_length=200, blank=True)

    def __str__(self):
        return f"{self.component_id}: {self.part} on {self.done_on}"


class RatingPaper(Withdrawable):
    """A certificate or tag of a component, and who read the figure off it a second time.

    `figures` is the entry as it stood when the paper was attached; it counts while the entry
    says the same.
    """

    component = models.ForeignKey(
        "replacements.Component", on_delete=models.PROTECT, related_name="papers"
    )
    document = models.ForeignKey(Document, on_delete=models.PROTECT)
    figures = models.JSONField(default=dict)
    attached_by = models.CharField(max_length=150)
    attached_at = models.DateTimeField()
    confirmed_by = models.CharField(max_length=150, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return f"{self.component_id}: {self.document_id}"
