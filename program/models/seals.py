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


class RowDigests(models.Model):
    """Digests of the rows of one block of ids, of columns that the program keeps up to date."""

    stream = models.CharField(max_length=80)
    block = models.BigIntegerField()
    content = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["stream", "block"], name="digests_of_a_block_once")
        ]

    def __str__(self):
        return f"{self.stream} {self.block}"


class RowDigestsTaken(models.Model):
    """The SHA-256 over all digests of one stream, when they were taken; sealed in the chain."""

    stream = models.CharField(max_length=80)
    sha256 = models.CharField(max_length=64)
    taken_at = models.DateTimeField()

    def __str__(self):
        return f"{self.stream} {self.taken_at}"


class WrittenRow(models.Model):
    """A row that the program wrote since its digest was taken; without an id, its whole table."""

    table = models.CharField(max_length=80)
    row_id = models.BigIntegerField(null=True)

    class Meta:
        indexes = [models.Index(fields=["table", "row_id"], name="written_rows_of_a_table")]

    def __str__(self):
        return f"{self.table} {self.row_id or 'all'}"


class Proof(models.Model):
    """That the record was looked through, or a back-up of it restored, and what came of it."""

    class What(models.TextChoices):
        CHECKED = "CHECKED", "The record agrees with itself and its seals"
        RESTORED = "RESTORED", "Proved restorable"

    what = models.CharField(max_length=8, choices=What.choices)
    held = models.BooleanField()
    about = models.CharField(max_length=120, blank=True)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["what", "-id"], name="proofs_latest")]

    def __str__(self):
        return f"{self.get_what_display()}: {'yes' if self.held else 'no'}, {self.at}"
