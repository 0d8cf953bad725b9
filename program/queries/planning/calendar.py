"""The crews' year of a plan on days, from the areas as they are kept."""

from datetime import date, timedelta

from program.domain.calendar import program_year_bounds
from program.planning.crew_calendar import CalendarRow, CrewArea, WorkDays, calendar, replan
from program.queries.planning.asked import PlanAsked
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
    return calendar(found, work_days_of(asked), max(first, drawn_on), last)


def rest_of_year(areas, done: dict[str, int], asked: PlanAsked, year: int, as_of: date, crews: int):
    """The same from today, less the jobs done in each area.

    Raises
    ------
    BadCalendar: no working day is left.
    """
    first, last = program_year_bounds(year, rules_in_force())
    found = _crew_areas(areas, _away(asked, crews, first, last))
    return replan(found, done, work_days_of(asked), max(first, as_of), last)


def _crew_areas(areas, away) -> list[CrewArea]:
    return [
        CrewArea(
            area.key,
            area.crew,
            area.jobs,
            area.latitude,
            area.longitude,
            closed=(*_days_closed(area.closed), *away.get(area.crew, ())),
        )
        for area in areas
    ]


def _days_closed(kept) -> list[tuple[date, date]]:
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
        jobs_per_day=asked.jobs_per_crew_day,
        weekdays=tuple(asked.weekdays),
        frost=frost,
        other_days_off=frozenset(_each_day(asked.days_off)),
        consent_lead_days=asked.consent_lead_days,
    )
