"""The replacement pool, frozen on the first day of each program year with its line list."""

from django.db import models


class PoolFreeze(models.Model):
    """The pool of one program year. Later corrections change the next pool, never this one."""

    program_year = models.PositiveSmallIntegerField(unique=True)
    frozen_for = models.DateField()
    size = models.PositiveIntegerField()
    lead = models.PositiveIntegerField(default=0)
    grr = models.PositiveIntegerField(default=0)
    unknown = models.PositiveIntegerField(default=0)
    carried = models.PositiveIntegerField(default=0)
    added = models.PositiveIntegerField(default=0)
    removed = models.PositiveIntegerField(default=0)
    line_list_sha256 = models.CharField(max_length=64, blank=True)
    frozen_by = models.CharField(max_length=150)
    frozen_at = models.DateTimeField()

    def __str__(self):
        return f"pool of program year {self.program_year}: {self.size}"

    @property
    def before(self) -> int | None:
        """Lines of the pool of the year before; None for the first one, which had none."""
        return self.carried + self.removed if self.program_year > 1 else None


class PoolLine(models.Model):
    """A line in a frozen pool, with the category it had on that day."""

    freeze = models.ForeignKey(PoolFreeze, on_delete=models.PROTECT, related_name="lines")
    line = models.ForeignKey(
        "services_inventory.ServiceLine", on_delete=models.PROTECT, related_name="+"
    )
    category = models.CharField(max_length=8)
    why = models.CharField(max_length=12, default="POOL")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["freeze", "line"], name="pool_line_once")]

    def __str__(self):
        return f"{self.line_id} in {self.freeze_id}"
