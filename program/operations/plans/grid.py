"""Scenarios around a plan solved in the background, one after the other, the nearest first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from program.models import Plan
from program.operations.plans.advice import drawn_from, is_whole, told
from program.operations.plans.case import Record
from program.planning.grid import (
    Axis,
    axes_kept,
    budget_axis,
    crews_axis,
    inspections_axis,
    point_key,
    points,
)
from program.planning.solver import CannotPlan
from program.queries.planning.asked import PlanAsked, PlanError
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue
from services_inventory.queries.batches import batches_waiting
from services_inventory.refused import Refused

KIND = "SCENARIOS"
_MANY_AREAS = 1_500


def axes_of(plan: Plan) -> tuple[Axis, ...]:
    """Return the sliders of a plan; of one of very many areas only its crews move.

    Raises
    ------
    PlanError: the plan has no years, so that nothing lies around it.
    """
    rows = plan.result.get("years", ())
    if not rows:
        raise PlanError(f"{plan.name} has no plan of years: see what would help it first.")
    asked = PlanAsked.again(plan.settings)
    crews = crews_axis({row["year"]: row["crews"] for row in rows})
    budgets = {row["year"]: asked.budget_in(row["year"]) for row in rows}
    unknown = plan.result["unknowns"]["lines"]
    axes = (
        crews,
        budget_axis(budgets, [row["cost"] for row in rows], asked.budget_by_year),
        inspections_axis(asked.unknown_years, len(rows), unknown),
    )
    if plan.areas.count() <= _MANY_AREAS:
        return axes
    return crews, *(Axis(axis.key, (axis.values[axis.own],), 0) for axis in axes[1:])


def grid_queue(*, plan: Plan, by: str, at: datetime, as_of: date) -> Batch:
    """Have the scenarios around a plan solved.

    Raises
    ------
    PlanError: they are being solved already, or the plan has no years.
    """
    rows = Batch.objects.filter(kind=KIND, parameters__plan=plan.pk)
    if any(batch.is_running for batch in rows):
        raise PlanError(f"The scenarios around {plan.name} are being solved already.")
    axes = [asdict(axis) for axis in axes_of(plan)]
    asked = {"plan": plan.pk, "axes": axes, "as_of": as_of.isoformat()}
    title = f"Scenarios around {plan.name}"[:200]
    return batch_queue(batch=batch_open(kind=KIND, by=by, at=at, title=title, parameters=asked))


def settings_at(plan: Plan, axes: tuple[Axis, ...], point: tuple[int, ...]) -> dict:
    """Return the settings of the scenario at a point; an adopted plan's areas are kept."""
    kept: dict[str, Any] = {}
    if plan.state == Plan.State.ADOPTED:
        kept = {"based_on": plan.pk, "keep_published": True}
    for axis, place in zip(axes, point, strict=True):
        kept |= axis.values[place].settings
    return {**plan.settings, **kept}


def grid_run(*, batch: Batch, report: Callable[[int, int], None]) -> None:
    """Solve the points that wait, one by one; give way as soon as anything else waits.

    What is solved is kept with the batch at once, so that a stop loses nothing.

    Raises
    ------
    Refused: the plan is gone.
    """
    plan = Plan.objects.filter(pk=batch.parameters["plan"]).first()
    if plan is None:
        raise Refused("The plan is gone, so nothing around it can be solved.")
    axes, as_of = axes_kept(batch.parameters["axes"]), date.fromisoformat(batch.parameters["as_of"])
    every, cells = list(points(axes)), dict(batch.result.get("cells", {}))
    record = Record.read(PlanAsked.again(plan.settings).seed, as_of)
    for point in (one for one in every if point_key(one) not in cells):
        report(len(cells), len(every))
        cells[point_key(point)] = _solved(as_of, settings_at(plan, axes, point), record)
        batch.result = {"cells": cells}
        batch.save(update_fields=["result"])
        if len(cells) < len(every) and batches_waiting(as_of).exclude(pk=batch.pk).exists():
            batch.state = Batch.State.QUEUED
            return
    batch.message = f"All {len(every)} scenarios around {plan.name} are solved."
    batch.state = Batch.State.APPLIED


def _solved(as_of: date, settings: dict, record: Record) -> dict | None:
    """What the scenario gives; None where no plan keeps all rules."""
    try:
        draft, drawn = drawn_from(as_of, PlanAsked.of(settings), record, explain=False)
    except (PlanError, CannotPlan):
        return None
    if not is_whole(drawn):
        return None
    looking = {y.year: y.unknown * draft.asked.cost_per_inspection for y in draft.horizon.years}
    years = [
        [row.year, row.jobs, row.cost + looking[row.year], float(row.cumulative_rate)]
        for row in drawn.years
    ]
    return {**asdict(told(draft, drawn)), "years": years}
