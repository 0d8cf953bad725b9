"""The utility itself, and the rule values that its State or it set differently."""

from django.db import models


class Utility(models.Model):
    """The water system that runs this program; one row."""

    name = models.CharField(max_length=160)
    pwsid = models.CharField(max_length=20, blank=True)
    state = models.CharField(max_length=2, blank=True)
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


class RuleOverride(models.Model):
    """A dated value of the rule as the State or the utility set it, with author and reason."""

    value_id = models.CharField(max_length=80)
    value = models.JSONField()
    effective_from = models.DateField()
    effective_to = models.DateField(null=True, blank=True)
    jurisdiction = models.CharField(max_length=40)
    citation = models.CharField(max_length=200, blank=True)
    author = models.CharField(max_length=150)
    reason = models.TextField()
    recorded_at = models.DateTimeField()

    def __str__(self):
        return f"{self.value_id} from {self.effective_from}"
