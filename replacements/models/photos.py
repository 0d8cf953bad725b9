"""What a photo said of itself before its metadata was taken out."""

from django.db import models

from services_inventory.models import Document

from .work_orders import WorkOrder

FT_PER_M = 3.28084


class PhotoFacts(models.Model):
    """Where and when a photo says it was taken, what it looks like, the order it was sent for."""

    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="photo_facts")
    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="photos")
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    taken_at = models.CharField(max_length=40, blank=True)
    distance_m = models.FloatField(null=True, blank=True)
    original_sha256 = models.CharField(max_length=64, blank=True, default="", db_default="")
    likeness = models.BigIntegerField(null=True, blank=True)
    brightness = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "photo facts"
        constraints = [
            models.UniqueConstraint(fields=["document", "work_order"], name="photo_once_per_order")
        ]

    @property
    def distance_ft(self) -> float | None:
        """How far from the order's address it says it was taken."""
        return None if self.distance_m is None else self.distance_m * FT_PER_M

    def __str__(self):
        return f"photo {self.document_id} for {self.work_order_id}"
