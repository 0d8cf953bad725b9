"""Standings that take effect before today: a replacement counts from the day of the work.

What is known once it is recorded then holds from that day on, whatever was on record of the days
since; so the last change by (effective on, recorded at, id) is always what is now known of a day.
"""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from .. import bulk
from ..models import CategoryChange, ServiceLine
from ..queries.evidence_rows import day_of

CHUNK = 500


class Early(NamedTuple):
    """The standing of one line that takes effect on an earlier day."""

    line_id: int
    effective_on: date
    category: str | None
    decision_id: int | None


def early_standings() -> list[Early]:
    """Return the staged standings that take effect before the day of record."""
    rows = bulk.stream(
        "SELECT s.line_id, s.early_on, o.category, o.decision_id FROM standing_stage s "
        "JOIN standing_outcome o ON o.outcome = s.outcome WHERE s.early_on IS NOT NULL"
    )
    return [Early(pk, day_of(day), *standing) for pk, day, *standing in rows]


def early_write(
    early: list[Early], *, recorded_at: datetime, by: str, batch_id: int | None
) -> None:
    """Write these standings into the record of their first day and of every change since."""
    for some in _chunks(early):
        changes = _changes([one.line_id for one in some])
        fresh = [change for one in some for change in _lacking(one, changes[one.line_id])]
        for change in fresh:
            change.recorded_at, change.recorded_by, change.batch_id = recorded_at, by, batch_id
        CategoryChange.objects.bulk_create(fresh)
        for one in some:
            since = _since(one, changes[one.line_id])
            ServiceLine.objects.filter(pk=one.line_id).update(category_since=since)


def _chunks(early: list[Early]) -> Iterator[list[Early]]:
    return (early[at : at + CHUNK] for at in range(0, len(early), CHUNK))


def _changes(line_ids: list[int]) -> dict[int, list[CategoryChange]]:
    found = defaultdict(list)
    rows = CategoryChange.objects.filter(line__in=line_ids)
    for change in rows.order_by("effective_on", "recorded_at", "id"):
        found[change.line_id].append(change)
    return found


def _lacking(one: Early, changes: list[CategoryChange]) -> Iterator[CategoryChange]:
    """Yield the changes that the record of a line lacks to say what is now known."""
    since = {change.effective_on for change in changes if change.effective_on > one.effective_on}
    for day in sorted(since | {one.effective_on}):
        said = [change.to_category for change in changes if change.effective_on <= day]
        if (said[-1] if said else None) != one.category:
            yield CategoryChange(
                line_id=one.line_id,
                from_category=said[-1] if said else None,
                to_category=one.category,
                decision_id=one.decision_id,
                effective_on=day,
            )


def _since(one: Early, changes: list[CategoryChange]) -> date:
    """The day since when the line is what it is: earlier, where it was the same before."""
    since = one.effective_on
    for change in reversed(changes):
        if change.effective_on <= one.effective_on:
            if change.to_category != one.category:
                break
            since = change.effective_on
    return since
