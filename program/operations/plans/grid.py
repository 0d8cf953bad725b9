"""Scenarios around a plan solved in the background, the nearest first, two at a time."""

from __future__ import annotations

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
from program.two_processes import record_seen_by_others, two_at_a_time
from services_inventory.domain.reporting import Report
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue
from services_inventory.queries.batches import batches_waiting
from services_inventory.refused import Refused

KIND = "SCENARIOS"
_FEW_AREAS, _MANY_AREAS = 100, 1_500  # of fewer, starting a process takes as long as it saves


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


def grid_run(*, batch: Batch, report: Report) -> None:
    """Solve the points that wait; begin no more as soon as anything else waits.

    Two at a time, unless the town is small or so large that two would need too much memory. What is
    solved is kept with the batch at once, so that a stop loses nothing but what was being solved.

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
    wanted = {
        key: settings_at(plan, axes, one) for one in every if (key := point_key(one)) not in cells
    }
    report(len(cells), len(every))
    for key, found in _each_solved(batch, as_of, wanted, record, plan.areas.count()):
        cells[key] = found
        batch.result = {"cells": cells}
        batch.save(update_fields=["result"])
        report(len(cells), len(every))
    if len(cells) < len(every):
        batch.state = Batch.State.QUEUED
        return
    batch.message = f"All {len(every)} scenarios around {plan.name} are solved."
    batch.state = Batch.State.APPLIED


def _each_solved(batch: Batch, as_of: date, wanted: dict, record: Record, areas: int):
    """Yield the key of each scenario with what was found, until something else waits."""

    def alone() -> bool:
        return not batches_waiting(as_of).exclude(pk=batch.pk).exists()

    database = record_seen_by_others() if _FEW_AREAS <= areas <= _MANY_AREAS else ""
    if not database:
        for key, settings in wanted.items():
            yield key, _solved(as_of, settings, record)
            if not alone():
                return
        return
    asked = [(key, as_of, settings, record) for key, settings in wanted.items()]
    for (key, *_), found in two_at_a_time(_solved_apart, asked, database, alone):
        yield key, found


def _solved_apart(key: str, *asked) -> dict | None:
    return _solved(*asked)


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
