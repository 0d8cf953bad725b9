"""Who was let in to do what: every change of an account or a company, never rewritten."""

from django.conf import settings
from django.db import models

from replacements.models import Contractor


class PeopleChange(models.Model):
    """One change of an account, or of a company that works for the utility."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="changes",
    )
    company = models.ForeignKey(
        Contractor, null=True, blank=True, on_delete=models.PROTECT, related_name="changes"
    )
    what = models.CharField(max_length=60)
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    changed_by = models.CharField(max_length=150)
    changed_at = models.DateTimeField()

    class Meta:
        permissions = [
            ("manage_people", "Can let people in and change what they may do"),
            ("view_people", "Can see who was let in, and who signed in"),
        ]
        indexes = [models.Index(fields=["-changed_at"], name="people_changes_by_day")]

    def __str__(self):
        return f"{self.what}: {self.account or self.company}"
