"""What customers write: the category is wrong, or the line was replaced already."""

from django.db import models

from services_inventory.models import Document, ServiceLine


class Inquiry(models.Model):
    """A message from a customer about a line, with the clock that it starts."""

    class Kind(models.TextChoices):
        WRONG_CATEGORY = "WRONG_CATEGORY", "the category is wrong"
        REPLACED_BY_OWNER = "REPLACED_BY_OWNER", "the owner had the line replaced"

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
    inspected_on = models.DateField(null=True, blank=True)
    replaced_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "inquiries"
        indexes = [models.Index(fields=["answered_on", "due_on"], name="inquiry_due")]
        permissions = [("answer_inquiry", "Can answer customers' inquiries")]

    def __str__(self):
        return f"{self.get_kind_display()}: {self.address_given}"
