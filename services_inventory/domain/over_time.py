"""How many lines of each category there were, day after day: the steps, the days, the picture."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from itertools import groupby
from operator import itemgetter

from .categories import Category
from .days import add_months, day_told
from .drawing import GRID, INK, Axes, path, picture, text
from .line_drawing import GALVANIZED, LEAD, NEITHER, UNKNOWN, in_pattern

LOOKS = {
    Category.LEAD: LEAD,
    Category.GRR: GALVANIZED,
    Category.UNKNOWN: UNKNOWN,
    Category.NON_LEAD: NEITHER,
}
OPEN = (Category.LEAD, Category.GRR, Category.UNKNOWN)
MOST_DAYS = 48
_WIDTH, _HIGH, _LANE = 400, 48, 86
Counts = Mapping[str, int]


def day_by_day(
    changes: Iterable[tuple[date, str | None]],
) -> Iterator[tuple[str | None, str | None, date]]:
    """Yield (before, after, day) where a line's category at the end of a day differs.

    `changes` are (day, category) in order; the last of a day holds.
    """
    before = None
    for day, of_day in groupby(changes, itemgetter(0)):
        *_, (_, after) = of_day
        if after != before:
            yield before, after, day
        before = after


def days_between(first: date, last: date) -> list[date]:
    """Return the first day, the last, and ends of days, weeks, months or years between them.

    Examples
    --------
    >>> [f"{day}" for day in days_between(date(2030, 11, 20), date(2031, 1, 15))][:3]
    ['2030-11-20', '2030-11-27', '2030-12-04']
    """
    days = (last - first).days
    for step in (1, 7):
        if days <= step * MOST_DAYS:
            return [*(first + timedelta(at) for at in range(0, days, step)), last]
    months = (last.year - first.year) * 12 + last.month - first.month
    step = next(step for step in (1, 3, 12, 60, 600) if months <= step * MOST_DAYS)
    begun = [date(year, month, 1) for year, month in _months(first, last) if not (month - 1) % step]
    if step > 12:
        begun = [day for day in begun if not day.year % (step // 12)]
    ends = (day - timedelta(1) for day in begun)
    return [first, *(day for day in ends if first < day < last), last]


def _months(first: date, last: date) -> Iterator[tuple[int, int]]:
    for month in range(first.year * 12 + first.month, last.year * 12 + last.month):
        yield month // 12, month % 12 + 1


def told_over_time(rows: Sequence[tuple[date, Counts]]) -> str:
    """Return in one sentence what became of the lines that are lead, galvanized or unknown."""
    (first, before), *_, (last, now) = rows
    was, still = (sum(counts[one] for one in OPEN) for counts in (before, now))
    less = (
        f"{abs(was - still):,} {'fewer' if still < was else 'more'}" if was != still else "as many"
    )
    return (
        f"{was:,} line{'s were' if was != 1 else ' was'} lead, galvanized requiring replacement or "
        f"unknown on {day_told(first)}, and {still:,} on {day_told(last)}: {less}."
    )


def over_time(rows: Sequence[tuple[date, Counts]]) -> str:
    """Return the picture: a strip a category, in its pattern, each with a scale of its own from 0.

    rows : (day, {category: lines}) from the first day to the last, two at least
    """
    first, last = rows[0][0], rows[-1][0]
    span, parts, told = (last - first).days, [], []
    digits = max(len(f"{number:,}") for _, counts in rows for number in counts.values())
    left, right = 16 + 8 * digits, _WIDTH - 18 - 9 * digits
    for row, (category, look) in enumerate(LOOKS.items()):
        top = 28 + row * _LANE
        figures = [((day - first).days, counts[category]) for day, counts in rows]
        most = max(1, *(number for _, number in figures))
        axes = Axes(left, right, top, top + _HIGH, span, most)
        for level in (0, most):
            said = text(left - 6, axes.y(level) + 5, f"{level:,}", "end")
            parts += [axes.level(level, GRID), said]
        corners = (f"{axes.x(at):.1f} {axes.y(number):.1f}" for at, number in figures)
        before, now = figures[0][1], figures[-1][1]
        parts += [
            in_pattern(f"M{'L'.join(corners)}", look, 0.45),
            text(left, top - 9, category.label.capitalize(), font_weight=600),
            text(right + 8, axes.y(now) + 5, f"{now:,}", font_weight=600),
        ]
        told.append(f"{category.label} {before:,}, then {now:,}")
    parts.append(_dates(Axes(left, right, 28, top + _HIGH, span, 1), first, last))
    title = f"Lines by category from {day_told(first)} to {day_told(last)}"
    return picture(_WIDTH, top + _HIGH + 32, parts, title, f"{'; '.join(told)}.", 14)


def _dates(axes: Axes, first: date, last: date) -> str:
    """Write at most five dates below the lowest strip, none over another."""
    months = (last.year - first.year) * 12 + last.month - first.month
    step = next((step for step in (1, 2, 3, 6, 12, 24, 60, 120) if months <= 5 * step), 600)
    start = first.replace(day=1)
    begun = [add_months(start, at) for at in range(months + 1)]
    begun = [day for day in begun if day >= first and not (day.year * 12 + day.month - 1) % step]
    ends = [(day, f"{day:%b} {day.year}" if step < 12 else f"{day.year}") for day in begun]
    if len(ends) < 2:
        ends = [(first, day_told(first)), (last, day_told(last))]
    drawn = []
    for day, words in ends:
        x = axes.x((day - first).days)
        drawn += [
            path(f"M{x:.1f} {axes.bottom:g}v5", INK),
            text(x, axes.bottom + 20, words, "middle"),
        ]
    return "".join(drawn)
