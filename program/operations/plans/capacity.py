"""What crews can do in a program year, season by season."""

from __future__ import annotations

from datetime import date
from math import floor

from program.planning.defaults import default
from program.queries.planning.asked import PlanAsked
from program.queries.planning.calendar import crews_in_season, season_of, work_days_of

_WHOLE_YEAR = "YEAR"
OTHER_DAYS = "OTHER"


def season_names(asked: PlanAsked) -> tuple[str, ...]:
    """Return the seasons of every year in the plan's own order; one where none are named."""
    named = tuple(row["name"] for row in asked.seasons)
    return (*named, OTHER_DAYS) if named else (_WHOLE_YEAR,)


def days_by_season(asked: PlanAsked, first: date, last: date) -> tuple[float, ...]:
    """Return the working days of each season from first to last, less the middle of the weather's.

    Weather takes whole days of the year; they are shared among the seasons by their days.
    """
    from program.planning.crew_calendar import working_days

    names = season_names(asked)
    if first > last:
        return (0.0,) * len(names)
    counts = dict.fromkeys(names, 0)
    for day in working_days(work_days_of(asked), first, last):
        counts[(season_of(asked, day) or OTHER_DAYS) if asked.seasons else _WHOLE_YEAR] += 1
    low, high = default("season_days_lost")
    share = min(1.0, ((last - first).days + 1) / 365.25)
    found = sum(counts.values())
    left = max(0, floor(found - share * (low + high) / 2))
    return tuple(count * left / found if found else 0.0 for count in counts.values())


def crew_jobs(year, asked: PlanAsked, crews: int) -> tuple[tuple[int, ...], ...]:
    """Return for every crew the jobs it can do in each season, after its share of inspections.

    Parameters
    ----------
    year : HorizonYear
    crews : crews in that year; in a season with fewer the last ones stay away
    """
    at_work, parts = _at_work(asked, crews), _parts_done(year, asked, crews)
    crew_days = sum(
        days * sum(parts[:number]) for days, number in zip(year.season_days, at_work, strict=True)
    )
    looking = year.unknown * default("jobs_per_inspection")
    a_day = max(0.0, asked.jobs_a_day - (looking / crew_days if crew_days else 0.0))
    return tuple(
        tuple(
            floor(days * part * a_day + 1e-9) if crew < number else 0
            for days, number in zip(year.season_days, at_work, strict=True)
        )
        for crew, part in enumerate(parts)
    )


def _parts_done(year, asked: PlanAsked, crews: int) -> list[float]:
    """Return the part of its jobs that each crew does: a new one half on its first days."""
    new, days = asked.new_crews_in(year.year, crews), sum(year.season_days)
    begun = max(0.0, 1 - min(asked.ramp_up_days, days) / 2 / days) if days else 1.0
    return [1.0] * (crews - new) + [begun] * new


def capacity_of(year, asked: PlanAsked, crews: int) -> int:
    """Return the jobs that all crews together can do in a year."""
    return sum(map(sum, crew_jobs(year, asked, crews)))


def mean_crews(year, asked: PlanAsked, crews: int) -> float:
    """Return the crews at work on the average working day of a year, a new one as far as it is."""
    if not year.work_days:
        return float(crews)
    parts = _parts_done(year, asked, crews)
    at_work = _at_work(asked, crews)
    full = sum(
        days * sum(parts[:number]) for days, number in zip(year.season_days, at_work, strict=True)
    )
    return full / sum(year.season_days)


def _at_work(asked: PlanAsked, crews: int) -> list[int]:
    return [crews_in_season(asked, name, crews) for name in season_names(asked)]
