"""Files that come again and again from one place: how they are read, and when a person looks."""

from django.db import models
from django.db.models import Q


class Feed(models.Model):
    """A saved source, such as "GIS export, weekly", with its column map and what it rests on.

    Each of its files is checked first. One that would change more than `most_percent` of the
    lines waits for a person.
    """

    name = models.CharField(max_length=80, unique=True)
    folder = models.CharField(max_length=80, unique=True)
    parameters = models.JSONField(default=dict)
    most_percent = models.PositiveSmallIntegerField(default=10)
    watched = models.BooleanField(default=True)
    note = models.CharField(max_length=300, blank=True)
    looked_at = models.DateTimeField(null=True, blank=True)
    made_by = models.CharField(max_length=150)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(most_percent__lte=100), name="feed_share_is_a_percentage"
            )
        ]

    def __str__(self):
        return self.name
