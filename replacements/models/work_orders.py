"""Work orders: one line to be replaced, by whom, from which pipe to which, under what ground."""

from django.db import models
from django.db.models import Q

from services_inventory.models import ServiceLine

from ..domain.methods import Method
from .contractors import Contractor, Crew


class WorkPackage(models.Model):
    """A contractor's season of work orders, printed and handed over as one pack."""

    name = models.CharField(max_length=120)
    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="packages")
    year = models.PositiveSmallIntegerField()
    due_on = models.DateField(null=True, blank=True)
    created_by = models.CharField(max_length=150)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contractor", "name"], name="package_name_once")
        ]

    def __str__(self):
        return self.name


class WorkOrderQuerySet(models.QuerySet):
    """Reads of work orders within what a user may see."""

    def visible_to(self, user):
        """Keep the user's own company's released work; utility staff see all."""
        membership = getattr(user, "membership", None)
        if membership is not None:
            return self.filter(contractor_id=membership.contractor_id).exclude(
                state=WorkOrder.State.PLANNED
            )
        if user.has_perm("replacements.view_all_work"):
            return self
        return self.none()


class WorkOrder(models.Model):
    """One replacement to be done on one service line."""

    class State(models.TextChoices):
        PLANNED = "PLANNED", "planned"
        RELEASED = "RELEASED", "released to the contractor"
        HANDED_IN = "HANDED_IN", "handed in, waiting for review"
        RETURNED = "RETURNED", "returned with reasons"
        ACCEPTED = "ACCEPTED", "accepted"
        CALLED_OFF = "CALLED_OFF", "called off"

    OPEN_STATES = ("PLANNED", "RELEASED", "HANDED_IN", "RETURNED")

    number = models.CharField(max_length=20, unique=True)
    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="work_orders")
    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="work_orders")
    package = models.ForeignKey(
        WorkPackage, null=True, blank=True, on_delete=models.PROTECT, related_name="work_orders"
    )
    crew = models.ForeignKey(
        Crew, null=True, blank=True, on_delete=models.SET_NULL, related_name="work_orders"
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    method = models.CharField(max_length=12, default="SPLIT")
    old_material = models.CharField(max_length=22, default="LEAD")
    old_nominal_in = models.FloatField(null=True, blank=True)
    old_grade = models.CharField(max_length=20, blank=True)
    old_outside_in = models.FloatField(null=True, blank=True)
    new_material = models.CharField(max_length=22, default="PE")
    new_nominal_in = models.FloatField(default=1.0)
    new_grade = models.CharField(max_length=20, default="CTS SDR 9")
    length_ft = models.FloatField(null=True, blank=True)
    cover_ft = models.FloatField(null=True, blank=True)
    soil = models.CharField(max_length=30, blank=True)
    groundwater = models.BooleanField(null=True, blank=True)
    bends = models.JSONField(default=list, blank=True)
    joints = models.JSONField(default=list, blank=True)
    snaking_deg_per_10_ft = models.FloatField(null=True, blank=True)
    surfaces = models.JSONField(default=list, blank=True)
    ground_conditions = models.JSONField(default=list, blank=True)
    required_cover_ft = models.FloatField(null=True, blank=True)
    frozen_to_ft = models.FloatField(null=True, blank=True)
    other_lines_looked_for_on = models.DateField(null=True, blank=True)
    safety = models.JSONField(default=dict, blank=True)
    due_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    created_by = models.CharField(max_length=150)
    created_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        permissions = [
            ("view_all_work", "Can see the work of every contractor"),
            ("plan_work", "Can create, release and call off work orders"),
            ("do_work", "Can hand in tool strings, pull and completion records"),
            ("review_work", "Can accept or return completion records"),
            ("record_access", "Can record contact attempts and consent"),
        ]
        indexes = [
            models.Index(fields=["contractor", "state", "id"], name="order_contractor_state"),
            models.Index(fields=["state", "id"], name="order_state_id"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["line"],
                condition=Q(state__in=("PLANNED", "RELEASED", "HANDED_IN", "RETURNED")),
                name="one_open_order_per_line",
            ),
            models.CheckConstraint(
                condition=Q(length_ft__isnull=True) | Q(length_ft__gt=0),
                name="order_length_positive",
            ),
        ]

    def __str__(self):
        return self.number

    @property
    def method_label(self) -> str:
        """The method in words."""
        return Method(self.method).label if self.method in set(Method) else self.method.lower()

    @property
    def bends_told(self) -> list[str]:
        """The bends of the run, each in words with its place and how tight it is."""
        return [
            f"{bend['degrees']:g}° at {bend['station_ft']:g} ft, "
            + (f"radius {bend['radius_in']:g} in." if bend.get("radius_in") else "radius not known")
            for bend in self.bends
        ]

    @property
    def joints_told(self) -> list[str]:
        """The joints left in the run, each in words with its place."""
        from ..domain.pull_force import JointKind

        return [
            f"{JointKind(joint['kind']).label} at {joint['station_ft']:g} ft"
            for joint in self.joints
        ]

    @property
    def soil_label(self) -> str:
        """The soil class in words, empty where nobody entered it."""
        from ..domain.pull_force import soils

        return soils()[self.soil].name if self.soil in soils() else self.soil

    @property
    def old_pipe_told(self) -> str:
        """The pipe that is to go, as a crew names it."""
        from ..domain.pipes import pipe_named

        return pipe_named(self.old_material, self.old_nominal_in, self.old_grade)

    @property
    def new_pipe_told(self) -> str:
        """The pipe that is to be laid, as a crew names it."""
        from ..domain.pipes import pipe_named

        return pipe_named(self.new_material, self.new_nominal_in, self.new_grade)

    @property
    def state_word(self) -> str:
        """The state in a word or two, for tables."""
        return self.state.replace("_", " ").lower()


class WorkOrderChange(models.Model):
    """What happened to a work order: from, to, who, when, why. Append-only."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="changes")
    from_state = models.CharField(max_length=10, blank=True)
    to_state = models.CharField(max_length=10)
    reason = models.TextField(blank=True)
    changed_by = models.CharField(max_length=150)
    changed_at = models.DateTimeField()

    def __str__(self):
        return f"{self.from_state} -> {self.to_state}"

    @property
    def states_told(self) -> str:
        """The state that the order came into, after the one that it left where it moved."""
        words = dict(WorkOrder.State.choices)
        came, left = (words.get(s, s).lower() for s in (self.to_state, self.from_state))
        return f"{left} → {came}" if left and left != came else came
