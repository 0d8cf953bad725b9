"""A change of owner: what was tried and said before it no longer counts. Taken back, not edited."""

from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told
from services_inventory.models import Document, Premise
from services_inventory.refused import Refused

from ..models import OwnerChange


@transaction.atomic
def owner_change_record(
    *, premise: Premise, changed_on: date, source: str, by: str, recorded_at: datetime,
    document: Document | None = None,
) -> OwnerChange:  # fmt: skip
    """Record that premises passed to a new owner on a day, and how that is known.

    Raises
    ------
    Refused: the day has not come, is recorded already, or nothing says how it is known.
    """
    if changed_on > localdate(recorded_at):
        raise Refused(f"The change is dated {day_told(changed_on)}, which has not come yet.")
    if not source.strip():
        raise Refused("Say how the change is known, for instance the deed's number.")
    standing = OwnerChange.objects.standing().filter(premise=premise)
    if standing.filter(changed_on=changed_on).exists():
        raise Refused(f"A change of owner on {day_told(changed_on)} is on record already.")
    return OwnerChange.objects.create(
        premise=premise,
        changed_on=changed_on,
        source=source.strip()[:300],
        document=document,
        recorded_by=by,
        recorded_at=recorded_at,
    )
