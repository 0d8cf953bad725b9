"""The counts by category from the first day on record to today, as is known now.

Only lines with a change on another day than that on which most came in are walked: after that day
the counts are today's without what changed since, before it what had changed by then. The steps
are kept like the other counts (`kept_counts`), and only lines that changed are walked again.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator
from datetime import date
from itertools import groupby
from operator import itemgetter

from django.core.cache import cache
from django.db.models import Count, Q

from ..domain.over_time import Counts, day_by_day, days_between
from ..models import CategoryChange
from .counts import NONE_YET
from .counts_now import category_counts_now
from .kept_counts import KEPT_S, category_mark

_KEY = "counts-over-time"
Steps = Counter[tuple[date, str | None]]
# Fewer than one line in a hundred, and the picture has not begun.
BEGUN = 100


def counts_over_time(today: date) -> list[tuple[date, Counts]]:
    """Return (day, {category: lines}) at the ends of days up to today, the first day first.

    It begins when a hundredth of today's lines was on record. Empty without any line.
    """
    biggest, steps = _kept_steps()
    now = category_counts_now()
    first = _begun(biggest, steps, now["total"])
    if first is None or first > today:
        return []
    days = [*days_between(first, today)]
    return [*zip(days, _at_ends(days, biggest, steps, now), strict=True)]


def _at_ends(days: list[date], biggest: date, steps: Steps, now: Counts) -> Iterator[Counts]:
    """Yield the counts at the end of each of these days; the steps are walked once for all."""
    grown: list[Counts] = [dict.fromkeys(NONE_YET, 0) for _ in (*days, "later")]
    for (of, category), number in steps.items():
        if category is not None:
            grown[bisect_left(days, of)][category] += number
    so_far = dict(NONE_YET)
    # What the lines that came in on the biggest day, and never changed, add from then on.
    rest = {one: now[one] - sum(growth[one] for growth in grown) for one in NONE_YET}
    for day, growth in zip(days, grown, strict=False):
        so_far = {one: number + growth[one] for one, number in so_far.items()}
        yield so_far if day < biggest else {one: so_far[one] + rest[one] for one in NONE_YET}


def _begun(biggest: date | None, steps: Steps, lines: int) -> date | None:
    """Return the first day on which enough lines were on record, at the latest the biggest."""
    if biggest is None:
        return None
    came, by_day = 0, Counter()
    for (day, category), number in steps.items():
        by_day[day] += number if category is not None and day < biggest else 0
    for day in sorted(by_day):
        came += by_day[day]
        if came and came * BEGUN >= lines:
            return day
    return biggest


def _kept_steps() -> tuple[date | None, Steps]:
    """Return the day on which most changed, and the steps of lines that changed on another."""
    now, kept = category_mark(), cache.get(_KEY)
    if kept is not None and kept[0] == now:
        return kept[1:]
    made = _brought_up_to(now, *kept) if kept is not None else None
    biggest, steps = made or _all_steps()
    cache.set(_KEY, (now, biggest, steps), KEPT_S)
    return biggest, steps


def _brought_up_to(now, then, biggest: date | None, steps: Steps):
    lines = now.lines_changed_since(then)
    if lines is None or biggest is None:
        return None
    of_lines = Q(line_id__in=lines - {None})
    news = {pk for pk, *_ in set(now.changes[0]) - set(then.changes[0])}
    fresh, stale = _steps(of_lines), _steps(of_lines & ~Q(id__in=news))
    steps = Counter(steps)
    steps.update(fresh)
    steps.subtract(stale)
    return biggest, steps


def _all_steps() -> tuple[date | None, Steps]:
    by_day = CategoryChange.objects.order_by().values_list("effective_on").annotate(n=Count("*"))
    biggest, _ = max(by_day, key=itemgetter(1), default=(None, 0))
    if biggest is None:
        return None, Counter()
    others = CategoryChange.objects.exclude(effective_on=biggest).values("line_id")
    return biggest, _steps(Q(line_id__in=others))


def _steps(which: Q) -> Steps:
    """Return by how many lines each (day, category) grew, of the lines of these changes."""
    rows = (
        CategoryChange.objects.filter(which)
        .order_by("line_id", "effective_on", "recorded_at", "id")
        .values_list("line_id", "effective_on", "to_category")
    )
    steps: Steps = Counter()
    for _, of_line in groupby(rows.iterator(), itemgetter(0)):
        for before, after, day in day_by_day((day, to) for _, day, to in of_line):
            steps[day, before] -= 1
            steps[day, after] += 1
    return steps
