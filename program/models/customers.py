"""What customers write or tell: a wrong category, their own replacement of their side."""

from django.db import models

from services_inventory.models import Document, ServiceLine
from services_inventory.models.withdrawal import Entry, once_standing, says_why


class Inquiry(models.Model):
    """A message from a customer about a line, with the clock that it starts."""

    class Kind(models.TextChoices):
        WRONG_CATEGORY = "WRONG_CATEGORY", "the category is wrong"
        REPLACED_BY_OWNER = "REPLACED_BY_OWNER", "the owner had the line replaced"
        PIPE_PHOTO = "PIPE_PHOTO", "a photo of the pipe, to be looked at"
        OWNER_PLANS = "OWNER_PLANS", "the owner plans to replace their side"
        WATER_TEST = "WATER_TEST", "asks for a water test"
        OWNER_AGREES = "OWNER_AGREES", "the owner agrees to the replacement"

    # Only who says what the pipe is sets the rule's clock (40 CFR 141.84(b)(4)); the others are
    # answered by the same day, as the utility's own promise.
    DISPUTES = (Kind.WRONG_CATEGORY, Kind.REPLACED_BY_OWNER, Kind.PIPE_PHOTO)

    line = models.ForeignKey(
        ServiceLine, null=True, blank=True, on_delete=models.PROTECT, related_name="inquiries"
    )
    kind = models.CharField(max_length=20, choices=Kind.choices)
    address_given = models.CharField(max_length=200)
    name = models.CharField(max_length=120, blank=True)
    contact = models.CharField(max_length=200, blank=True)
    message = models.TextField(blank=True)
    photo = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT)
    received_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    answered_on = models.DateField(null=True, blank=True)
    answer = models.TextField(blank=True)
    answered_by = models.CharField(max_length=150, blank=True)
    language = models.CharField(max_length=8, default="en", db_default="en")
    inspection_note = models.TextField(blank=True, default="", db_default="")
    inspection_ordered_on = models.DateField(null=True, blank=True)
    inspection_ordered_by = models.CharField(max_length=150, blank=True, default="", db_default="")
    offered_on = models.DateField(null=True, blank=True)
    inspected_on = models.DateField(null=True, blank=True)
    replaced_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "inquiries"
        indexes = [models.Index(fields=["answered_on", "due_on"], name="inquiry_due")]
        permissions = [("answer_inquiry", "Can answer customers' inquiries")]

    def __str__(self):
        return f"{self.get_kind_display()}: {self.address_given}"

    @property
    def disputes(self) -> bool:
        """Whether it says what the pipe is, so that the rule's clock runs."""
        return self.kind in self.DISPUTES


class CustomerWork(Entry):
    """A customer told that they will replace, or have replaced, their side of a line.

    What happened since is a `CustomerWorkStep`. Taken back with a reason, never edited.
    """

    line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="customer_works")
    inquiry = models.ForeignKey(
        Inquiry, null=True, blank=True, on_delete=models.PROTECT, related_name="customer_works"
    )
    told_on = models.DateField()
    planned_on = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            once_standing("line", name="one_customer_work_per_line"),
            says_why("withdrawn_customer_work_says_why"),
        ]

    def __str__(self):
        return f"line {self.line_id}: told on {self.told_on}"


class CustomerWorkStep(Entry):
    """What happened after a customer told of their own work. Taken back, never edited."""

    class Kind(models.TextChoices):
        CUSTOMER_DONE = "CUSTOMER_DONE", "the customer's side is replaced"
        SYSTEM_DONE = "SYSTEM_DONE", "the system side is replaced"
        EXTENDED = "EXTENDED", "the shorter time cannot be met"
        STATE_TOLD = "STATE_TOLD", "the State was told of the longer time"

    work = models.ForeignKey(CustomerWork, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=13, choices=Kind.choices)
    happened_on = models.DateField()
    source = models.CharField(max_length=300)

    class Meta:
        constraints = [
            once_standing("work", "kind", name="one_step_of_a_kind"),
            says_why("withdrawn_step_says_why"),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} on {self.happened_on}"
