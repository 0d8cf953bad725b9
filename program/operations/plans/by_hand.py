"""Changes to a drawn plan by hand: lock an area to a year, free it, split it, merge two.

An adopted plan is frozen. A plan that was changed says so until it is drawn again.
"""

from __future__ import annotations

from datetime import datetime
from math import ceil

from django.db import transaction

from program.models import Plan, PlanArea
from program.planning.work_areas import BadArea, PoolLine, WorkArea, merge, split
from program.queries.planning.asked import PlanError

_COUNTED = ("LEAD", "GRR", "UNKNOWN")


def area_lock(*, area: PlanArea, year: int, by: str, at: datetime) -> PlanArea:
    """Keep an area in a program year when the plan is drawn again.

    Raises
    ------
    PlanError: the plan is adopted, or doesn't cover the year.
    """
    with transaction.atomic():
        plan = _open(area.plan)
        years = [row["year"] for row in plan.result["years"]] or [area.program_year]
        if year not in years:
            raise PlanError(
                f"Program year {year} is not in this plan: choose one of "
                f"{', '.join(str(number) for number in years)}."
            )
        area.locked, area.program_year = True, year
        area.save(update_fields=["locked", "program_year"])
        _note(plan, f"{area.key} locked to program year {year}", by, at)
    return area


def area_unlock(*, area: PlanArea, by: str, at: datetime) -> PlanArea:
    """Let an area take any year again.

    Raises
    ------
    PlanError: the plan is adopted.
    """
    with transaction.atomic():
        plan = _open(area.plan)
        area.locked = False
        area.save(update_fields=["locked"])
        _note(plan, f"{area.key} no longer locked", by, at)
    return area


def area_split(
    *, area: PlanArea, by: str, at: datetime, location_ids=None
) -> tuple[PlanArea, PlanArea]:
    """Make two areas of one: the lines named and the rest, or the best cut in the middle.

    Raises
    ------
    PlanError: the plan is adopted, or the area can't be split so.
    """
    with transaction.atomic():
        plan = _open(area.plan)
        lines = _lines(area)
        try:
            parts = split(_work_area(area, lines), list(lines.values()), location_ids)
        except BadArea as error:
            raise PlanError(str(error)) from error
        _refuse_taken(plan, [part.id for part in parts])
        made = [_made(area, part, [area]) for part in parts]
        _note(plan, f"{area.key} split into {made[0].key} and {made[1].key}", by, at)
        area.delete()
    return made[0], made[1]


def area_merge(*, first: PlanArea, second: PlanArea, by: str, at: datetime) -> PlanArea:
    """Make one area of two in the same neighbourhood.

    Raises
    ------
    PlanError: the plan is adopted, or the two can't be merged.
    """
    with transaction.atomic():
        plan = _open(first.plan)
        if second.plan_id != first.plan_id:
            raise PlanError("The two areas belong to two plans: choose two of one plan.")
        lines = {**_lines(first), **_lines(second)}
        areas = [_work_area(area, _lines(area)) for area in (first, second)]
        try:
            found = merge(*areas, list(lines.values()))
        except BadArea as error:
            raise PlanError(str(error)) from error
        keys = f"{first.key} and {second.key}"
        # The merged area takes the key of one of the two, which makes room for it first.
        PlanArea.objects.filter(pk__in=(first.pk, second.pk), key=found.id).update(
            key=f"{found.id[:70]}~merged"
        )
        made = _made(first, found, [first, second])
        _note(plan, f"{keys} merged into {made.key}", by, at)
        PlanArea.objects.filter(pk__in=(first.pk, second.pk)).delete()
    return made


def _open(plan: Plan) -> Plan:
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state != Plan.State.DRAWN:
        raise PlanError(
            f"{plan.name} is {plan.get_state_display()} and stays as it is: draw a new plan from "
            "it, and change that."
        )
    return plan


def _note(plan: Plan, what: str, by: str, at: datetime) -> None:
    plan.result["by_hand"].append({"what": what, "by": by, "at": at.isoformat()})
    plan.save(update_fields=["result"])


def _refuse_taken(plan: Plan, keys: list[str]) -> None:
    taken = plan.areas.filter(key__in=keys).values_list("key", flat=True)
    if taken:
        raise PlanError(f"There is an area {taken[0]} already: merge it away first.")


def _lines(area: PlanArea) -> dict[str, PoolLine]:
    rows = area.lines.order_by("line__location_id").values_list(
        "line__location_id", "line__premise__street_key", "line__premise__house_number",
        "line__premise__latitude", "line__premise__longitude",
    )  # fmt: skip
    hood = area.neighbourhood.name if area.neighbourhood else ""
    return {row[0]: PoolLine(row[0], row[1], row[2], hood, row[3], row[4]) for row in rows}


def _work_area(area: PlanArea, lines) -> WorkArea:
    hood = area.neighbourhood.name if area.neighbourhood else ""
    return WorkArea(
        area.key, area.name, hood, tuple(lines), area.latitude, area.longitude, locked=area.locked
    )


def _made(base: PlanArea, found: WorkArea, olds: list[PlanArea]) -> PlanArea:
    """The new row with its lines; chances of unknown lines are shared out evenly until redrawn."""
    unknown = sum(old.unknown for old in olds)
    expected = sum(old.score_parts.get("expected", 0.0) for old in olds)
    per_unknown = expected / unknown if unknown else 0.0
    counted = sum(old.lead + old.grr for old in olds) + expected
    per_job = sum(old.cost for old in olds) / counted if counted else 0.0
    rows = base.plan.area_lines.filter(area__in=olds, line__location_id__in=found.line_ids)
    categories = list(rows.values_list("line__category", flat=True))
    counts = {category: categories.count(category) for category in _COUNTED}
    own = counts["LEAD"] + counts["GRR"] + counts["UNKNOWN"] * per_unknown
    made = PlanArea.objects.create(
        plan=base.plan,
        key=found.id[:80],
        name=found.name[:160],
        neighbourhood=base.neighbourhood,
        jobs=max(1, ceil(own - 1e-9)),
        lead=counts["LEAD"],
        grr=counts["GRR"],
        unknown=counts["UNKNOWN"],
        cost=round(own * per_job, 2),
        score=base.score,
        score_parts={
            **base.score_parts,
            "expected": round(counts["UNKNOWN"] * per_unknown, 2),
            "small": False,
        },
        program_year=base.program_year,
        crew=base.crew,
        latitude=found.lat,
        longitude=found.lon,
    )
    rows.update(area=made)
    return made
