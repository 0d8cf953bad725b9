"""The crew calendars of a kept plan: as it was drawn, and what is left of a year by now."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import NamedTuple

from django.db.models import Count, Q

from program.models import Plan, PlanArea
from program.planning.crew_calendar import CalendarRow
from program.queries.planning.asked import PlanAsked
from program.queries.planning.calendar import rest_of_year, year_calendar
from program.queries.planning.pool import OPEN


def calendar_of(plan: Plan, year: int, crew: int | None = None) -> list[CalendarRow]:
    """Return one year's calendar as the plan was drawn, for one crew if asked.

    Raises
    ------
    BadCalendar: no working day is left.
    """
    areas = plan.areas.filter(program_year=year, crew__isnull=False)
    rows = year_calendar(areas.order_by("key"), *_staff(plan, year))
    return [row for row in rows if crew in (None, row.crew)]


def rest_of(plan: Plan, year: int, as_of: date) -> list[CalendarRow]:
    """Return what is left of a year from today, less the lines settled since.

    Raises
    ------
    BadCalendar: no working day is left.
    """
    areas = list(plan.areas.filter(program_year=year, crew__isnull=False).order_by("key"))
    asked, _, drawn_on, crews = _staff(plan, year)
    return rest_of_year(areas, _done_in(plan, areas), asked, year, drawn_on, as_of, crews)


def _staff(plan: Plan, year: int) -> tuple[PlanAsked, int, date, int]:
    """Return what a year's calendar is made with: the settings, the year, the plan's day, crews."""
    crews = {row["year"]: row["crews"] for row in plan.result.get("years", ()) if row["crews"]}
    asked = PlanAsked.again(plan.settings).staffed(crews)
    return asked, year, plan.drawn_on, crews.get(year) or plan.result.get("crews") or 0


def _done_in(plan: Plan, areas: list[PlanArea]) -> dict[str, int]:
    """Return {area: jobs done}: all of them where no line is open, else the lines replaced."""
    counted = plan.area_lines.values("area_id").annotate(
        open=Count("id", filter=Q(line__category__in=OPEN)),
        replaced=Count("line", filter=Q(line__replacements__isnull=False), distinct=True),
    )
    found = {row["area_id"]: row for row in counted}
    done = {}
    for area in areas:
        row = found.get(area.pk)
        if row is None or not row["open"]:
            done[area.key] = area.jobs
        elif row["replaced"]:
            done[area.key] = min(area.jobs - 1, row["replaced"])
    return done


class AreaDays(NamedTuple):
    """An area's days as they are kept with the plan, for the picture of a year."""

    crew: int
    area_id: str
    jobs: int
    start: date
    finish: date


def calendars(plan: Plan) -> list[dict]:
    """Return the kept days of every year with work, and how many of its areas have none."""
    years: dict[int, list[AreaDays]] = {}
    without: Counter[int] = Counter()
    placed = plan.areas.filter(program_year__isnull=False, crew__isnull=False)
    for area in placed.order_by("program_year", "crew", "starts_on", "key"):
        rows = years.setdefault(area.program_year, [])
        if area.starts_on is None:
            without[area.program_year] += 1
            continue
        rows.append(AreaDays(area.crew, area.key, area.jobs, area.starts_on, area.ends_on))
    return [
        {
            "year": year,
            "rows": rows,
            "areas": len(rows) + without[year],
            "crews": sorted({row.crew for row in rows}),
            "without": without[year],
        }
        for year, rows in sorted(years.items())
    ]
