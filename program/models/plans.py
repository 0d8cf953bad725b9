"""Plans (which area, which program year, which crew; adopted ones are frozen) and inspections."""

from django.db import models

from services_inventory.domain.days import day_told


class Plan(models.Model):
    """One computed plan (a scenario), with its settings, solver answer and adoption."""

    class State(models.TextChoices):
        DRAWN = "DRAWN", "drawn"
        ADOPTED = "ADOPTED", "adopted"
        SUPERSEDED = "SUPERSEDED", "superseded"

    name = models.CharField(max_length=120)
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAWN)
    settings = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    forecast = models.JSONField(default=dict, blank=True)
    status = models.CharField(max_length=30, blank=True)
    gap = models.FloatField(null=True, blank=True)
    drawn_on = models.DateField()
    drawn_by = models.CharField(max_length=150)
    drawn_at = models.DateTimeField()
    adopted_by = models.CharField(max_length=150, blank=True)
    adopted_at = models.DateTimeField(null=True, blank=True)
    packages = models.ManyToManyField("replacements.WorkPackage", blank=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["state"],
                condition=models.Q(state="ADOPTED"),
                name="one_adopted_plan",
            )
        ]

    def __str__(self):
        return self.name


class PlanAdoption(models.Model):
    """That a plan was put in force, why and in whose place; and, if so, that it was taken back."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="adoptions")
    instead_of = models.ForeignKey(Plan, null=True, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(blank=True)
    adopted_by = models.CharField(max_length=150)
    adopted_at = models.DateTimeField()
    undone_because = models.TextField(blank=True)
    undone_by = models.CharField(max_length=150, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return f"{self.plan_id} in force from {self.adopted_at}"


class PlanArea(models.Model):
    """A street-by-street work area of a plan."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="areas")
    key = models.CharField(max_length=80)
    name = models.CharField(max_length=160)
    neighborhood = models.ForeignKey(
        "services_inventory.Neighborhood", null=True, on_delete=models.PROTECT, related_name="+"
    )
    jobs = models.PositiveIntegerField()
    lead = models.PositiveIntegerField(default=0)
    grr = models.PositiveIntegerField(default=0)
    unknown = models.PositiveIntegerField(default=0)
    cost = models.FloatField(default=0)
    score = models.FloatField(default=0)
    score_parts = models.JSONField(default=dict, blank=True)
    program_year = models.PositiveSmallIntegerField(null=True, blank=True)
    crew = models.PositiveSmallIntegerField(null=True, blank=True)
    order_in_year = models.PositiveIntegerField(null=True, blank=True)
    starts_on = models.DateField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)
    locked = models.BooleanField(default=False)
    # First and last days of the spans in which moratoria and windows let nobody work here.
    closed = models.JSONField(default=list, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["plan", "key"], name="plan_area_once")]

    def __str__(self):
        return self.name


class PlanAreaLine(models.Model):
    """A pool line's place in a plan: every pool line in exactly one area."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="area_lines")
    area = models.ForeignKey(PlanArea, on_delete=models.CASCADE, related_name="lines")
    line = models.ForeignKey(
        "services_inventory.ServiceLine", on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["plan", "line"], name="plan_line_once")]

    def __str__(self):
        return f"{self.line_id} in {self.area_id}"


class PlanEdit(models.Model):
    """One change of a plan's areas by hand, with the areas as they were, so that it can be undone.

    `before` holds the rows of the areas it touched, with their lines; `made` the keys of those
    that stand in their place.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="edits")
    what = models.CharField(max_length=400)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()
    before = models.JSONField(default=list)
    made = models.JSONField(default=list)
    undone_by = models.CharField(max_length=150, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return self.what


class LostDay(models.Model):
    """A working day that weather took from a crew of the plan in force, or from all of them."""

    day = models.DateField()
    crew = models.PositiveSmallIntegerField(null=True)
    reason = models.CharField(max_length=200)
    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()
    taken_back_by = models.CharField(max_length=150, blank=True)
    taken_back_at = models.DateTimeField(null=True)

    def __str__(self):
        who = "every crew" if self.crew is None else f"crew {self.crew}"
        return f"{day_told(self.day)}, {who}: {self.reason}"


class InspectionDraw(models.Model):
    """A list of unknown lines to look at: some chosen to find lead, some drawn at random.

    `listed` holds the lines with the probability by which each came on the list, so that the
    share of lead among all unknown lines of that day can be estimated without bias. Never redrawn.
    """

    drawn_on = models.DateField()
    drawn_by = models.CharField(max_length=150)
    drawn_at = models.DateTimeField()
    budget = models.PositiveIntegerField()
    random_share = models.FloatField()
    seed = models.PositiveIntegerField()
    unknown = models.PositiveIntegerField()
    listed = models.JSONField(default=dict)

    def __str__(self):
        day = day_told(self.drawn_on)
        return f"inspections of {day}: {self.budget} of {self.unknown} unknown lines"
