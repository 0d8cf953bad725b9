"""Drawing a plan: read the record, group, solve, put on days, forecast, keep."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime, timedelta

from django.db import transaction

from program.models import Plan, PlanArea, PlanAreaLine
from program.operations.plans.advice import changes_tried, drawn_from
from program.operations.plans.case import Draft, Record
from program.operations.plans.odds import forecast_case, played_forecast
from program.operations.plans.results import result_of
from program.planning.crew_calendar import BadCalendar
from program.planning.forecast import BadForecast, crews_needed
from program.planning.solver import CannotPlan
from program.planning.solver import Plan as Drawn
from program.planning.work_areas import WorkArea
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.planning.back_test import back_test
from program.queries.planning.calendar import year_calendar
from services_inventory.domain.days import day_told
from services_inventory.domain.reporting import Report

STEPS = 5


def plan_draw(
    *,
    settings: dict,
    by: str,
    at: datetime,
    as_of: date,
    name: str = "",
    report: Report | None = None,
) -> Plan:
    """Draw a plan and keep it as a scenario; whatever is adopted stays as it is.

    A plan whose rules clash is kept, too, with the clash and the changes that were tried and help.

    Parameters
    ----------
    settings : see PlanAsked; what is left out keeps its starting value

    Raises
    ------
    PlanError: something asked for or recorded makes a plan impossible; the message says what.
    """
    report = report or (lambda done, total: None)
    asked = PlanAsked.of(settings)
    report(0, STEPS)
    record = Record.read(asked.seed, as_of)
    report(1, STEPS)
    try:
        draft, drawn = drawn_from(as_of, asked, record)
    except CannotPlan as error:
        raise PlanError(" ".join(error.sentences)) from error
    report(2, STEPS)
    odds = _forecast(draft, drawn)
    report(3, STEPS)
    days = _days(draft, drawn, as_of)
    whole = drawn.placements and not drawn.overrun
    advice = {} if whole else changes_tried(as_of, draft, drawn)
    report(4, STEPS)
    plan = Plan(
        name=name.strip() or f"Plan of {day_told(as_of)}",
        settings=asked.kept(),
        result={
            **result_of(draft, drawn, as_of),
            "laid": _laid(draft, drawn, days),
            "advice": advice,
            "back_test": back_test(as_of, asked.seed),
        },
        forecast=odds,
        status=drawn.status,
        gap=drawn.gap,
        drawn_on=as_of,
        drawn_by=by,
        drawn_at=at,
    )
    _write(plan, draft, drawn, days)
    report(STEPS, STEPS)
    return plan


def _forecast(draft: Draft, drawn: Drawn) -> dict:
    if not drawn.placements:
        return {}
    try:
        found = played_forecast(draft, drawn)
        if found is None:
            return {"problem": "No odds are given while so much of the pool is in no area."}
        crews = crews_needed(forecast_case(draft, drawn))
    except BadForecast as error:
        return {"problem": str(error)}
    by_year = ("complies", "finished_by", "short_of_money")
    return {
        **asdict(found),
        **{name: {str(y): share for y, share in getattr(found, name).items()} for name in by_year},
        "sentences": found.sentences(),
        "crews_needed": crews.crews,
        "crews_sentence": crews.sentence,
    }


def plan_advise(*, plan: Plan, as_of: date, report: Report | None = None) -> dict:
    """Try what would help a drawn plan, and keep it with the plan; its figures stay.

    Raises
    ------
    PlanError: the plan is adopted, or the record has changed so that it can't be drawn any more.
    """
    plan.refresh_from_db()
    if plan.state != Plan.State.DRAWN:
        raise PlanError(f"{plan.name} is adopted: draw it again, then try what would help.")
    asked = PlanAsked.of(plan.settings)
    try:
        draft, drawn = drawn_from(as_of, asked, Record.read(asked.seed, as_of))
    except CannotPlan as error:
        raise PlanError(" ".join(error.sentences)) from error
    found = changes_tried(as_of, draft, drawn, report)
    with transaction.atomic():
        # It may have been changed by hand meanwhile; that stays.
        plan = Plan.objects.select_for_update().get(pk=plan.pk)
        plan.result["advice"] = found
        plan.save(update_fields=["result"])
    return found


class _Row:
    """An area as the calendar reads it."""

    def __init__(self, area, crew: int, jobs: int, closed: list):
        self.key, self.crew, self.jobs, self.closed = area.id, crew, jobs, closed
        self.latitude, self.longitude = area.lat, area.lon


def _days(draft: Draft, drawn: Drawn, as_of: date) -> dict[str, tuple]:
    """Return {area: (order, start, end, restored)}; a year without working days gives none."""
    areas = {area.id: area for area in draft.grouping.areas}
    jobs = {area.id: area.jobs for area in draft.case.areas}
    by_year: dict[int, list[_Row]] = {}
    for one in drawn.placements:
        area = areas[one.area_id]
        row = _Row(area, one.crew, jobs[one.area_id], _closed(draft, area, as_of))
        by_year.setdefault(one.year, []).append(row)
    found = {}
    for year, rows in sorted(by_year.items()):
        try:
            placed = year_calendar(rows, draft.staffed, year, as_of, draft.crews[year])
        except BadCalendar:
            continue
        for days in placed:
            found[days.area_id] = days.order, days.start, days.finish, days.restored or days.finish
    return found


def _laid(draft: Draft, drawn: Drawn, days: dict[str, tuple]) -> dict[str, list]:
    """Return {year: [crew, jobs, first, last day, ground restored]}, for the pace of the year."""
    jobs = {area.id: area.counted for area in draft.case.areas}
    found: dict[str, list] = {}
    for one in drawn.placements:
        _, *span = days.get(one.area_id, (0, None, None, None))
        told = [day and day.isoformat() for day in span]
        found.setdefault(str(one.year), []).append([one.crew, jobs[one.area_id], *told])
    return found


def _closed(draft: Draft, area: WorkArea, as_of: date) -> list[list[str]]:
    """An area's closed spans of days as its row keeps them, the wait for consent among them."""
    window = draft.windows.get(area.id)
    spans = list(window.spans) if window else []
    wait = draft.asked.consent_lead_days
    if wait and area.id not in draft.ready:
        spans.append((as_of, as_of + timedelta(days=wait - 1)))
    return [[first.isoformat(), last.isoformat()] for first, last in sorted(spans)]


@transaction.atomic
def _write(plan: Plan, draft: Draft, drawn: Drawn, days: dict[str, tuple]) -> None:
    plan.save()
    placed = {one.area_id: one for one in drawn.placements}
    solver_area = {area.id: area for area in draft.case.areas}
    rows = [
        _area_row(plan, area, draft, solver_area[area.id], placed.get(area.id), days.get(area.id))
        for area in draft.grouping.areas
    ]
    PlanArea.objects.bulk_create(rows, batch_size=500)
    ids = dict(plan.areas.values_list("key", "pk"))
    lines = (
        PlanAreaLine(plan=plan, area_id=ids[area.id], line_id=draft.lines[line_id].pk)
        for area in draft.grouping.areas
        for line_id in area.line_ids
    )
    PlanAreaLine.objects.bulk_create(lines, batch_size=2_000)


def _area_row(plan: Plan, area, draft: Draft, asked, placement, days) -> PlanArea:
    members = draft.members(area)
    place = draft.places[area.neighborhood]
    counts = {c: sum(line.category == c for line in members) for c in ("LEAD", "GRR", "UNKNOWN")}
    order, starts_on, ends_on, _ = days or (None, None, None, None)
    return PlanArea(
        plan=plan,
        key=area.id[:80],
        name=area.name[:160],
        neighborhood_id=place.facts.id,
        jobs=asked.jobs,
        lead=counts["LEAD"],
        grr=counts["GRR"],
        unknown=counts["UNKNOWN"],
        cost=asked.cost,
        score=place.score.points,
        score_parts={
            "neighborhood": {part.key: round(part.points, 3) for part in place.score.parts},
            "priority": round(asked.priority, 3),
            "expected": round(asked.counted - counts["LEAD"] - counts["GRR"], 2),
            "small": area.small,
        },
        program_year=placement.year if placement else None,
        crew=placement.crew if placement else None,
        order_in_year=order,
        starts_on=starts_on,
        ends_on=ends_on,
        locked=asked.locked_year is not None,
        closed=_closed(draft, area, plan.drawn_on),
        latitude=area.lat,
        longitude=area.lon,
    )
