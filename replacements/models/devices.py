"""The contractor's devices that speak to the API."""

from django.conf import settings
from django.db import models

from .contractors import Contractor


class DeviceToken(models.Model):
    """A device's right to speak for a user of a company until a day. The secret is not kept."""

    contractor = models.ForeignKey(Contractor, on_delete=models.PROTECT, related_name="devices")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="devices"
    )
    name = models.CharField(max_length=80)
    shown = models.CharField(max_length=12)
    secret_sha256 = models.CharField(max_length=64, unique=True)
    created_by = models.CharField(max_length=150)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.CharField(max_length=150, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self):
        return f"{self.name} ({self.shown}…)"
