"""Records that are never edited: taken back by name, time and reason, and kept."""

from django.db import models
from django.db.models import Q

_STANDS = Q(withdrawn_at__isnull=True)


class WithdrawableQuerySet(models.QuerySet):
    """Reads of records that can be taken back."""

    def standing(self):
        """Keep what has not been withdrawn."""
        return self.filter(_STANDS)

    def take_back(self, by: str, at, reason: str) -> int:
        """Take back those that stand; return how many."""
        told = {"withdrawn_by": by, "withdrawn_at": at, "withdrawn_reason": reason.strip()[:300]}
        return self.standing().update(**told)


class Withdrawable(models.Model):
    """A record that is withdrawn rather than changed."""

    withdrawn_by = models.CharField(max_length=150, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=300, blank=True)

    objects = WithdrawableQuerySet.as_manager()

    class Meta:
        abstract = True

    @classmethod
    def withdraw(cls, pk: int, by: str, at, reason: str) -> bool:
        """Take a record back; False where it was taken back before."""
        return bool(cls.objects.filter(pk=pk).take_back(by, at, reason))


class Entry(Withdrawable):
    """A record that says who entered it and when."""

    recorded_by = models.CharField(max_length=150)
    recorded_at = models.DateTimeField()

    class Meta:
        abstract = True


def once_standing(*fields: str, name: str) -> models.UniqueConstraint:
    """Let only one of those that stand have these values."""
    return models.UniqueConstraint(fields=fields, condition=_STANDS, name=name)


def says_why(name: str) -> models.CheckConstraint:
    """Let none be taken back without a reason."""
    return models.CheckConstraint(condition=_STANDS | ~Q(withdrawn_reason=""), name=name)
