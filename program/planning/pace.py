"""The running program year week by week: what is needed, what the plan lays on it, what is done.

The need rises evenly by days. The plan's jobs lie evenly on the working days of each area. The fan
is the forecast's of the year's end; before it, it opens as the plan's own jobs come.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class PlannedJobs:
    """Jobs of one area from its first to its last day; without days they come at the year's end."""

    jobs: float
    first: date | None
    last: date | None


@dataclass(frozen=True)
class Week:
    """How many lines by the end of a week; `done` is None for weeks to come."""

    number: int
    last_day: date
    needed: float | None
    planned: float | None
    low: float | None
    high: float | None
    done: int | None


def weeks_of(
    first: date,
    last: date,
    as_of: date,
    *,
    done: Mapping[date, int],
    needed: float | None,
    areas: Iterable[PlannedJobs] | None,
    work_days: Sequence[date],
    drawn_on: date,
    ends: tuple[float, float] | None,
) -> list[Week]:
    """Return the year's weeks, the last one cut off at its end; today's is there twice, to today
    and to its end.

    Parameters
    ----------
    done : full replacements by day
    needed : full replacements that the year asks for; None where it asks for none
    areas : what the plan lays on the year; None where no plan is in force
    work_days : the plan's working days of the year, in order
    drawn_on : the plan's day; what was done before it is where the plan begins
    ends : the low and high numbers of jobs done from that day to the year's end by the forecast
    """
    begins = max(first, drawn_on)
    base = sum(number for day, number in done.items() if day < begins)
    plan = None if areas is None else _by_day(areas, work_days, last)
    weeks = []
    for day in _week_ends(first, last, as_of):
        share = ((day - first).days + 1) / ((last - first).days + 1)
        low = high = planned = None
        if plan is not None and day >= begins - timedelta(1):
            ahead, whole = _until(plan, day), _until(plan, last)
            planned = base + ahead
            if ends and whole:
                low, high = (base + ahead / whole * end for end in ends)
        weeks.append(
            Week(
                (day - first).days // 7 + 1,
                day,
                None if needed is None else needed * share,
                planned,
                low,
                high,
                sum(n for on, n in done.items() if on <= day) if day <= as_of else None,
            )
        )
    return weeks


def _week_ends(first: date, last: date, as_of: date) -> list[date]:
    days = {first + timedelta(k) for k in range(6, (last - first).days, 7)}
    return sorted(days | {last, min(max(as_of, first), last)})


def _by_day(
    areas: Iterable[PlannedJobs], work_days: Sequence[date], last: date
) -> dict[date, float]:
    """Return jobs by day, each area's evenly on its working days."""
    found: dict[date, float] = {}
    for area in areas:
        start, end = 0, 0
        if area.first and area.last:
            start, end = bisect_left(work_days, area.first), bisect_right(work_days, area.last)
        days = work_days[start:end] or [area.last or last]
        for day in days:
            found[day] = found.get(day, 0.0) + area.jobs / len(days)
    return found


def _until(by_day: Mapping[date, float], day: date) -> float:
    return sum(jobs for on, jobs in by_day.items() if on <= day)


def idle_days(
    busy: Mapping[int, Sequence[tuple[date, date]]],
    crews: int,
    work_days: Sequence[date],
    until: date,
) -> int:
    """Return the working days up to a day on which the plan has nothing for one of its crews."""
    past = [day for day in work_days if day <= until]
    return sum(
        not any(first <= day <= last for first, last in busy.get(crew, ()))
        for crew in range(1, crews + 1)
        for day in past
    )
