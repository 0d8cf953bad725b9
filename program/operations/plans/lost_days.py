"""Days that weather took, put on record and taken back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from program.models import LostDay
from services_inventory.domain.days import day_told
from services_inventory.refused import Refused


@transaction.atomic
def lost_days_record(
    *,
    first: date,
    last: date,
    crew: int | None,
    reason: str,
    work_days: Sequence[date],
    by: str,
    at: datetime,
) -> list[LostDay]:
    """Record every working day from first to last as lost to weather.

    Parameters
    ----------
    crew : number of the crew in the plan; None for every crew
    work_days : the days on which the plan works

    Raises
    ------
    Refused: no working day lies there, or one of them is on record already.
    """
    days = [day for day in work_days if first <= day <= last]
    if not days:
        span = day_told(first) if first == last else f"{day_told(first)} to {day_told(last)}"
        raise Refused(f"The plan has no working day on {span}, so weather took none.")
    rows = LostDay.objects.filter(day__in=days, taken_back_at=None)
    same = rows if crew is None else rows.filter(Q(crew=crew) | Q(crew=None))
    if there := same.order_by("day", "id").first():
        raise Refused(
            f"On record already: {there}. Take that back first if it is to be put otherwise."
        )
    return [
        LostDay.objects.create(day=day, crew=crew, reason=reason, recorded_by=by, recorded_at=at)
        for day in days
    ]


@transaction.atomic
def lost_day_take_back(*, pk: int, by: str, at: datetime) -> LostDay:
    """Take a lost day back; it stays on record as taken back.

    Raises
    ------
    Refused: it isn't on record, or is taken back already.
    """
    row = LostDay.objects.select_for_update().filter(pk=pk).first()
    if row is None or row.taken_back_at:
        raise Refused("This day is not on record as lost any more: nothing changed.")
    row.taken_back_by, row.taken_back_at = by, at
    row.save(update_fields=["taken_back_by", "taken_back_at"])
    return row
