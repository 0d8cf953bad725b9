"""Service lines, and the category that their evidence gives them."""

from django.db import models

from ..domain.categories import Category
from ..domain.materials import Connector, Material
from .places import Neighborhood, Premise

MATERIALS = [(m.value, m.label) for m in Material]
CONNECTORS = [(c.value, c.label) for c in Connector]
CATEGORIES = [(c.value, c.label) for c in Category]


class Decision(models.Model):
    """One row of the decision table: these facts, under this policy, give this category.

    Written from `domain.classification.classify` when the facts are first met; lines join to it
    by `facts_key`, so one rule serves a single page and a million rows.
    """

    policy_key = models.CharField(max_length=40)
    facts_key = models.CharField(max_length=80)
    category = models.CharField(max_length=8, choices=CATEGORIES)
    reason = models.TextField()
    citation = models.CharField(max_length=200)
    would_settle = models.JSONField(default=list)
    rests_on_connectors = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["policy_key", "facts_key"], name="decision_unique")
        ]

    def __str__(self):
        return f"{self.category}: {self.reason}"


class LineUse(models.TextChoices):
    """Intended use; every line is inventoried whatever its use (141.84(a))."""

    DOMESTIC = "DOMESTIC", "drinking water"
    FIRE = "FIRE", "fire"
    IRRIGATION = "IRRIGATION", "irrigation"
    INACTIVE = "INACTIVE", "inactive"
    OTHER = "OTHER", "other"


COMMON_USE = LineUse.DOMESTIC.value


class ServiceLine(models.Model):
    """The pipe from the main to the building inlet, with its current standing.

    The standing (materials, category, reason, since when) is written by
    `operations.standings_write` and the set-based twin in `bulk`, never by a person.
    A line whose only batch was withdrawn has no category and counts nowhere.
    """

    location_id = models.CharField(max_length=80, unique=True)
    premise = models.ForeignKey(Premise, on_delete=models.PROTECT, related_name="lines")
    neighborhood = models.ForeignKey(
        Neighborhood,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="lines",
        db_index=False,
    )
    use = models.CharField(max_length=10, choices=LineUse.choices, default="DOMESTIC")
    system_material = models.CharField(max_length=22, choices=MATERIALS, default="UNKNOWN")
    customer_material = models.CharField(max_length=22, choices=MATERIALS, default="UNKNOWN")
    connector = models.CharField(max_length=8, choices=CONNECTORS, default="UNKNOWN")
    system_was_lead = models.BooleanField(null=True, blank=True)
    system_below_lead = models.BooleanField(default=False)
    system_nominal_in = models.FloatField(null=True, blank=True)
    customer_nominal_in = models.FloatField(null=True, blank=True)
    installed_year = models.SmallIntegerField(null=True, blank=True)
    category = models.CharField(max_length=8, choices=CATEGORIES, null=True)
    decision = models.ForeignKey(Decision, null=True, on_delete=models.PROTECT, db_index=False)
    category_since = models.DateField(null=True, blank=True)
    validation = models.CharField(max_length=16, blank=True, db_default="", default="")
    in_conflict = models.BooleanField(default=False)
    # Made of a row that, as a person said later, means another line: out of the inventory.
    given_up = models.BooleanField(default=False, db_default=False)
    batch = models.ForeignKey(
        "services_inventory.Batch",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,
    )

    class Meta:
        permissions = [
            ("record_evidence", "Can record evidence"),
            ("resolve_conflict", "Can resolve conflicting evidence"),
            ("run_validation", "Can run the validation of non-lead lines"),
            ("export_inventory", "Can download the inventory"),
        ]
        indexes = [
            models.Index(fields=["neighborhood", "category"], name="line_neighborhood_category"),
            models.Index(fields=["category", "id"], name="line_category_id"),
            models.Index(fields=["decision", "installed_year"], name="line_decision_year"),
            models.Index(fields=["id"], name="line_given_up", condition=models.Q(given_up=True)),
            models.Index(
                fields=["use"], name="line_rarer_use", condition=~models.Q(use=COMMON_USE)
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(location_id=""), name="line_identifier_given"
            ),
            models.CheckConstraint(
                condition=models.Q(category__isnull=True)
                | models.Q(category__in=[c.value for c in Category]),
                name="line_category_known",
            ),
            models.CheckConstraint(
                condition=models.Q(system_material__in=[m.value for m in Material]),
                name="line_system_material_known",
            ),
            models.CheckConstraint(
                condition=models.Q(customer_material__in=[m.value for m in Material]),
                name="line_customer_material_known",
            ),
            models.CheckConstraint(
                condition=models.Q(connector__in=[c.value for c in Connector]),
                name="line_connector_known",
            ),
        ]

    def __str__(self):
        return self.location_id


class CategoryChange(models.Model):
    """A line's category changed: from, to, why, effective when, recorded when. Append-only."""

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="category_changes")
    from_category = models.CharField(max_length=8, null=True)
    to_category = models.CharField(max_length=8, null=True)
    decision = models.ForeignKey(Decision, null=True, on_delete=models.PROTECT, db_index=False)
    effective_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=150)
    batch = models.ForeignKey(
        "services_inventory.Batch",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,
    )

    class Meta:
        indexes = [
            models.Index(fields=["effective_on"], name="change_effective"),
            # Lines once called non-lead are few; what was found there is owed a notice.
            models.Index(
                fields=["recorded_at", "id"],
                name="change_from_non_lead",
                condition=models.Q(from_category="NON_LEAD"),
            ),
        ]

    def __str__(self):
        return f"{self.line_id}: {self.from_category} -> {self.to_category}"
