"""Seals over what the record holds, see `program/domain/seals.py`."""

from django.db import models


class Seal(models.Model):
    """One block of rows of one stream, sealed; all seals are one chain, in the order of ids."""

    stream = models.CharField(max_length=80)
    rows = models.PositiveIntegerField()
    last_id = models.BigIntegerField()
    last_moment = models.DateTimeField(null=True, blank=True)
    digest = models.CharField(max_length=64)
    head = models.CharField(max_length=64)
    sealed_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["stream", "id"], name="seals_of_a_stream")]

    def __str__(self):
        return f"{self.stream} to {self.last_id}"
