"""The utility itself, and the rule values that its State or it set differently."""

from django.db import models


class Utility(models.Model):
    """The water system that runs this program; one row, as its facts stand today.

    Its columns are written by `operations.own_values` alone, which keeps each change as a dated
    row (`OwnValue`) with a reason.
    """

    name = models.CharField(max_length=160)
    pwsid = models.CharField(max_length=20, blank=True)
    state = models.CharField(max_length=2, blank=True)
    time_zone = models.CharField(max_length=40, blank=True, default="")
    population = models.PositiveIntegerField(default=0)
    connections = models.PositiveIntegerField(null=True, blank=True)
    contact = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    website = models.CharField(max_length=200, blank=True, default="", db_default="")
    return_address = models.TextField(blank=True)
    never_had_lead = models.BooleanField(default=False)
    tile_address = models.CharField(max_length=300, blank=True)
    publish_addresses = models.BooleanField(default=True)
    # An invented scenario stands at a day of its own; empty for a real utility.
    clock_stands_at = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "utilities"
        permissions = [
            ("view_boards", "Can see the program boards"),
            ("manage_program", "Can plan, freeze pools and adopt a plan"),
            ("manage_utility", "Can change the utility's particulars and rule values"),
        ]

    def __str__(self):
        return self.name


class FirstHourSkip(models.Model):
    """A step of the first hour that somebody passed over for now; it can be taken up again."""

    step = models.CharField(max_length=20, unique=True)
    skipped_by = models.CharField(max_length=150)
    skipped_at = models.DateTimeField()

    def __str__(self):
        return f"{self.step}, skipped by {self.skipped_by}"


class OwnValue(models.Model):
    """A dated row about a value of the State's or the utility's own, append-only.

    It sets a value of the rule or a fact of the utility from a day on, ends one on a day, or
    takes an earlier row back as never true. `before` is what held on that day until then.
    """

    class Act(models.TextChoices):
        SET = "SET", "set"
        END = "END", "ended"
        WITHDRAW = "WITHDRAW", "taken back"

    act = models.CharField(max_length=8, choices=Act.choices, default=Act.SET)
    value_id = models.CharField(max_length=80)
    jurisdiction = models.CharField(max_length=40)
    value = models.JSONField(null=True)
    before = models.JSONField(null=True)
    effective_from = models.DateField()
    about = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="later_rows"
    )
    citation = models.CharField(max_length=200, blank=True)
    author = models.CharField(max_length=150)
    reason = models.TextField()
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(act="SET", about__isnull=True)
                | models.Q(act__in=("END", "WITHDRAW"), about__isnull=False),
                name="own_value_is_about_what_it_changes",
            )
        ]

    def __str__(self):
        return f"{self.value_id} {self.get_act_display()} from {self.effective_from}"
