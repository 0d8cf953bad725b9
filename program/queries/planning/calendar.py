"""The crews' year of a plan on days, from the areas as they are kept."""

from datetime import date

from program.domain.calendar import program_year_bounds
from program.planning.crew_calendar import CalendarRow, CrewArea, WorkDays, calendar, replan
from program.queries.planning.asked import PlanAsked
from program.rules import rules_in_force


def year_calendar(areas, days: WorkDays, year: int, drawn_on: date) -> list[CalendarRow]:
    """Put one program year's areas on days, from the day the plan was drawn.

    Parameters
    ----------
    areas : rows of a plan with key, crew, jobs, latitude, longitude

    Raises
    ------
    BadCalendar: no working day is left.
    """
    first, last = program_year_bounds(year, rules_in_force())
    return calendar(_crew_areas(areas), days, max(first, drawn_on), last)


def rest_of_year(areas, done: dict[str, int], days: WorkDays, year: int, as_of: date):
    """The same from today, less the jobs done in each area.

    Raises
    ------
    BadCalendar: no working day is left.
    """
    first, last = program_year_bounds(year, rules_in_force())
    return replan(_crew_areas(areas), done, days, max(first, as_of), last)


def _crew_areas(areas) -> list[CrewArea]:
    return [
        CrewArea(area.key, area.crew, area.jobs, area.latitude, area.longitude) for area in areas
    ]


def work_days_of(asked: PlanAsked) -> WorkDays:
    """Return when crews work, by the settings."""
    frost = tuple(tuple(day) for day in asked.frost) if asked.frost else None
    return WorkDays(
        jobs_per_day=asked.jobs_per_crew_day,
        frost=frost,
        consent_lead_days=asked.consent_lead_days,
    )
