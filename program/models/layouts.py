"""Layouts that staff wrote for their primacy agency."""

from django.db import models


class LayoutVersion(models.Model):
    """A primacy agency's layout as it was saved once: TOML text. Append-only."""

    layout_id = models.CharField(max_length=40)
    version = models.PositiveIntegerField()
    name = models.CharField(max_length=200)
    text = models.TextField()
    what_changed = models.CharField(max_length=300, blank=True)
    saved_by = models.CharField(max_length=150)
    saved_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["layout_id", "version"], name="layout_version_once")
        ]

    def __str__(self):
        return f"{self.name}, version {self.version}"

    @property
    def ref(self) -> str:
        """What a freeze is told to take exactly this version."""
        return f"{self.layout_id}@{self.version}"
