"""The crews' year of a plan on days, from the areas as they are kept."""

from calendar import day_name
from collections.abc import Sequence
from datetime import date, timedelta

from program.domain.calendar import program_year_bounds
from program.planning.crew_calendar import (
    CalendarRow,
    CrewArea,
    WorkDays,
    calendar,
    replan,
    working_days,
)
from program.queries.planning.asked import PlanAsked
from program.queries.planning.setting_fields import month_day_told
from program.queries.planning.setting_tables import days_of_season
from program.rules import rules_in_force


def year_calendar(
    areas, asked: PlanAsked, year: int, drawn_on: date, crews: int
) -> list[CalendarRow]:
    """Put one program year's areas on days, from the day the plan was drawn.

    Parameters
    ----------
    areas : rows of a plan with key, crew, jobs, latitude, longitude, closed
    crews : crews in that year, some of which may stay away in a season

    Raises
    ------
    BadCalendar: no working day is left.
    """
    first, last = program_year_bounds(year, rules_in_force())
    found = _crew_areas(areas, _away(asked, crews, first, last))
    slow = dict.fromkeys(_new(asked, year, crews), asked.ramp_up_days)
    return calendar(found, work_days_of(asked), max(first, drawn_on), last, slow)


def rest_of_year(
    areas,
    done: dict[str, int],
    asked: PlanAsked,
    year: int,
    drawn_on: date,
    as_of: date,
    crews: int,
):
    """The same from today, less the jobs done in each area.

    Raises
    ------
    BadCalendar: no working day is left.
    """
    first, last = program_year_bounds(year, rules_in_force())
    away, days = _away(asked, crews, first, last), work_days_of(asked)
    slow = {}
    for crew in _new(asked, year, crews):
        gone = working_days(days, max(first, drawn_on), as_of - timedelta(1))
        worked = [d for d in gone if not any(a <= d <= b for a, b in away.get(crew, ()))]
        slow[crew] = max(0, asked.ramp_up_days - len(worked))
    return replan(_crew_areas(areas, away), done, days, max(first, as_of), last, slow)


def _new(asked: PlanAsked, year: int, crews: int) -> range:
    """The crews that the year before didn't have: the last ones."""
    return range(crews - asked.new_crews_in(year, crews) + 1, crews + 1)


def _crew_areas(areas, away) -> list[CrewArea]:
    return [
        CrewArea(
            area.key,
            area.crew,
            area.jobs,
            area.latitude,
            area.longitude,
            closed=tuple(days_closed(area.closed)),
            away=tuple(away.get(area.crew, ())),
        )
        for area in areas
    ]


def days_closed(kept) -> list[tuple[date, date]]:
    """Return the first and last days of the spans that an area keeps."""
    return [(date.fromisoformat(first), date.fromisoformat(last)) for first, last in kept]


def _away(asked: PlanAsked, crews: int, first: date, last: date) -> dict[int, list]:
    """Return the days on which each crew stays away, in a season with fewer crews than the year.

    Work that runs past the year meets the same seasons again, so two further years are covered.
    """
    later = last + timedelta(days=731)
    away: dict[int, list[tuple[date, date]]] = {}
    for row in asked.seasons:
        spans = season_spans(row, first, later)
        for crew in range(crews_in_season(asked, row["name"], crews) + 1, crews + 1):
            away.setdefault(crew, []).extend(spans)
    return away


def season_spans(row: dict, first: date, last: date) -> list[tuple[date, date]]:
    """Return the spans of days of a season that lie from first to last."""
    days = set(days_of_season(row))
    spans: list[tuple[date, date]] = []
    for number in range((last - first).days + 1):
        day = first + timedelta(number)
        if (day.month, day.day) not in days:
            continue
        if spans and spans[-1][1] == day - timedelta(1):
            spans[-1] = spans[-1][0], day
        else:
            spans.append((day, day))
    return spans


def season_of(asked: PlanAsked, day: date) -> str | None:
    """Return the name of the season that holds a day; None on a day of none."""
    mark = day.month, day.day
    for row in asked.seasons:
        start, end = tuple(row["first"]), tuple(row["last"])
        within = start <= mark <= end if start <= end else mark >= start or mark <= end
        if within:
            return row["name"]
    return None


def crews_in_season(asked: PlanAsked, name: str, crews: int) -> int:
    """Return how many of a year's crews work in a season."""
    most = next((row.get("crews") for row in asked.seasons if row["name"] == name), None)
    return crews if most is None else min(crews, most)


def weekdays_told(days: Sequence[int]) -> str:
    """Return days of the week in words.

    >>> weekdays_told([0, 1, 2, 3]), weekdays_told([0, 4])
    ('Monday to Thursday', 'Monday, Friday')
    """
    if len(days) > 2 and list(days) == list(range(days[0], days[-1] + 1)):
        return f"{day_name[days[0]]} to {day_name[days[-1]]}"
    return ", ".join(day_name[day] for day in days)


def working_time_told(asked: PlanAsked) -> str:
    """Return when crews work by the settings, in a sentence."""
    days, ramp = asked.restoration_days, asked.ramp_up_days
    parts = [
        f"Lines are replaced on {weekdays_told(sorted(asked.weekdays))}, {asked.day_hours:g} hours "
        f"a day, {asked.jobs_replacing:.3g} jobs a crew on each",
        f"{days:g} {'day' if days == 1 else 'days'} of restoring the ground follow ten of replacing"
        if days else "the ground is restored on other days or by others",
        "not on federal holidays"
        + (f", nor on {len(asked.days_off)} further spans of days" if asked.days_off else ""),
    ]  # fmt: skip
    if asked.frost:
        parts.append(f"no pulls from {' to '.join(map(month_day_told, asked.frost))}")
    if asked.seasons:
        named = (f"{row['name']} ({_most(row)})" for row in asked.seasons)
        parts.append(f"seasons {', '.join(named)}")
    if ramp:
        parts.append(f"a new crew does half its jobs on its first {ramp:,} working days")
    return f"{'; '.join(parts)}."


def _most(row: dict) -> str:
    most = row.get("crews")
    return "all crews" if most is None else f"at most {most} {'crew' if most == 1 else 'crews'}"


def _each_day(spans):
    for first, last in spans:
        start = date.fromisoformat(first)
        yield from (
            start + timedelta(k) for k in range((date.fromisoformat(last) - start).days + 1)
        )


def work_days_of(asked: PlanAsked) -> WorkDays:
    """Return when crews work, by the settings."""
    frost = tuple(tuple(day) for day in asked.frost) if asked.frost else None
    return WorkDays(
        jobs_per_day=asked.jobs_replacing,
        restoring=asked.restoration_days / 10,
        weekdays=tuple(asked.weekdays),
        frost=frost,
        other_days_off=frozenset(_each_day(asked.days_off)),
        consent_lead_days=asked.consent_lead_days,
    )
