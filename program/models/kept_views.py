"""Views of lists that people keep by name."""

from django.conf import settings
from django.db import models


class KeptView(models.Model):
    """A list as somebody comes back to it: its path, and the filters behind the question mark."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="kept_views"
    )
    path = models.CharField(max_length=200)
    query = models.CharField(max_length=2000)
    name = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["account", "path", "name"], name="one_kept_view_of_a_name"
            )
        ]

    def __str__(self):
        return self.name

    @property
    def address(self) -> str:
        """Where it leads."""
        return f"{self.path}?{self.query}"
