"""Since when the present owner has the premises."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Q, QuerySet

from services_inventory.models import ServiceLine

from ..models import OwnerChange


def owner_changes(as_of: date, known_at: datetime | None = None) -> QuerySet:
    """Return the changes of owner up to a day that stand, or stood at a moment if given."""
    stands = Q(withdrawn_at__isnull=True)
    if known_at is not None:
        stands = Q(recorded_at__lte=known_at) & (stands | Q(withdrawn_at__gt=known_at))
    return OwnerChange.objects.filter(stands, changed_on__lte=as_of)


def owner_since(line: ServiceLine, as_of: date) -> date | None:
    """Return the day the present owner took over, None where no change is on record."""
    changes = owner_changes(as_of).filter(premise_id=line.premise_id).order_by("-changed_on")
    return changes.values_list("changed_on", flat=True).first()


def owners_since(
    as_of: date, known_at: datetime | None = None, line_ids: Iterable[int] | None = None
) -> dict[int, date]:
    """Return {line id: day the present owner took over} where a change is on record."""
    changes = owner_changes(as_of, known_at).order_by("changed_on")
    if line_ids is not None:
        changes = changes.filter(premise__lines__in=list(line_ids))
    return dict(changes.values_list("premise__lines", "changed_on"))
