"""Reads behind the replacement pool: who stood where on a day, and what changed in a year."""

from collections.abc import Iterator
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter

from program.domain.replacement_pool import CategoryStep
from program.models import PoolFreeze, PoolLine
from replacements.models import Replacement
from services_inventory.domain.over_time import day_by_day
from services_inventory.models import CategoryChange

CHUNK = 5_000


def category_steps(
    first: date, last: date, known_at: datetime | None = None
) -> Iterator[CategoryStep]:
    """Yield what changed from day to day between two days, by line and by day.

    Of several changes of a line effective on one day the last one recorded holds, so a
    correction of late news takes the place of what it corrects. `replaced` tells that accepted
    work on the line was done on that day.
    """
    replaced = _work_days(first, last, known_at)
    changes = CategoryChange.objects.filter(effective_on__lte=last)
    if known_at is not None:
        changes = changes.filter(recorded_at__lte=known_at)
    moved = changes.filter(effective_on__gte=first).values("line_id")
    rows = (
        changes.filter(line_id__in=moved)
        .order_by("line_id", "effective_on", "recorded_at", "id")
        .values_list("line_id", "effective_on", "to_category")
        .iterator(CHUNK)
    )
    for line_id, of_line in groupby(rows, itemgetter(0)):
        for before, after, day in day_by_day((day, to) for _, day, to in of_line):
            if day >= first:
                yield CategoryStep(line_id, before, after, day, (line_id, day) in replaced)


def late_steps(day: date, since: datetime, known_at: datetime) -> Iterator[CategoryStep]:
    """Yield what came to be known between two moments of how lines stood at the end of a day.

    A pool that was frozen by what was known then stays as it is; what was corrected since moves
    the next one, as if it had been found in the year. `before` is what was known then, None where
    the line was not in the inventory.
    """
    news = CategoryChange.objects.filter(
        effective_on__lte=day, recorded_at__gt=since, recorded_at__lte=known_at
    )
    lines = sorted(set(news.values_list("line_id", flat=True).iterator(CHUNK)))
    for start in range(0, len(lines), CHUNK):
        some = lines[start : start + CHUNK]
        then, now = (_standing_on(some, day, at) for at in (since, known_at))
        works = Replacement.objects.standing(day, known_at).filter(
            line__in=some, accepted_at__gt=since
        )
        replaced = set(works.values_list("line_id", flat=True))
        for line_id in some:
            before, after = then.get(line_id), now.get(line_id)
            if before != after and after:
                yield CategoryStep(line_id, before, after, day, line_id in replaced)


def _standing_on(lines: list[int], day: date, known_at: datetime) -> dict[int, str | None]:
    """Return {line id: category} at the end of a day, as was known at a moment."""
    rows = CategoryChange.objects.filter(
        line__in=lines, effective_on__lte=day, recorded_at__lte=known_at
    ).order_by("line_id", "effective_on", "recorded_at", "id")
    return dict(rows.values_list("line_id", "to_category"))


def _work_days(first: date, last: date, known_at: datetime | None) -> set[tuple[int, date]]:
    works = Replacement.objects.standing(last, known_at).filter(replaced_on__gte=first)
    return set(works.values_list("line_id", "replaced_on"))


def replaced_on(day: date, known_at: datetime | None = None) -> dict[int, str]:
    """Return {line id: category before the work} of work done on one day."""
    works = Replacement.objects.standing(day, known_at).filter(replaced_on=day)
    return dict(works.order_by("-id").values_list("line_id", "category_before"))


def frozen_line_ids(freeze: PoolFreeze) -> frozenset[int]:
    """Return the ids of the lines in a frozen pool."""
    lines = PoolLine.objects.filter(freeze=freeze).values_list("line_id", flat=True)
    return frozenset(lines.iterator(CHUNK))


def frozen_list(freeze: PoolFreeze) -> Iterator[tuple[str, str, str, str]]:
    """Yield (location id, address, category that day, why it is on the list), by location id."""
    return (
        PoolLine.objects.filter(freeze=freeze)
        .order_by("line__location_id")
        .values_list("line__location_id", "line__premise__address", "category", "why")
        .iterator(CHUNK)
    )
