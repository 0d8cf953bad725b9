"""What the worker does for a plan: draw it, try what would help it or what to do next, make a
season's orders of the adopted one, or draw a list of unknown lines to look at.
"""

from datetime import date

from program.models import Plan
from program.operations.plans.adopting import orders_sentence, plan_orders_make
from program.operations.plans.drawing import plan_advise, plan_draw
from program.operations.plans.inspections import inspections_draw
from program.operations.plans.next_steps import next_steps
from services_inventory.domain.reporting import Report
from services_inventory.models import Batch


def plan_run(*, batch: Batch, report: Report) -> None:
    """Do what a batch asks for: a plan, changes tried, a list of inspections, or orders."""
    runs = {
        "orders_of": _orders,
        "inspections": _inspections,
        "advise": _advise,
        "next_steps": _next_steps,
    }
    run = next((run for name, run in runs.items() if name in batch.parameters), _draw)
    run(batch, report)
    batch.state = batch.State.APPLIED


def _draw(batch: Batch, report: Report) -> None:
    asked = batch.parameters
    plan = plan_draw(
        settings=asked["settings"],
        name=asked.get("name", ""),
        by=batch.requested_by,
        at=batch.started_at or batch.created_at,
        as_of=date.fromisoformat(asked["as_of"]),
        report=report,
    )
    batch.result = {"plan": plan.pk}
    batch.message = plan.result["clash"] or f"{plan.name} is drawn."


def _advise(batch: Batch, report: Report) -> None:
    plan = Plan.objects.get(pk=batch.parameters["advise"])
    as_of = date.fromisoformat(batch.parameters["as_of"])
    found = plan_advise(plan=plan, as_of=as_of, report=report)
    batch.result = {"plan": plan.pk}
    batch.message = f"{len(found['rows'])} changes would help {plan.name}."


def _next_steps(batch: Batch, report: Report) -> None:
    plan = Plan.objects.get(pk=batch.parameters["next_steps"])
    found = next_steps(
        plan=plan, as_of=date.fromisoformat(batch.parameters["as_of"]), report=report
    )
    batch.result = {"plan": plan.pk}
    batch.message = f"{len(found['steps'])} next steps were tried for {plan.name}."


def _inspections(batch: Batch, report: Report) -> None:
    report(0, 1)
    draw = inspections_draw(
        **batch.parameters["inspections"],
        by=batch.requested_by,
        at=batch.started_at or batch.created_at,
        as_of=date.fromisoformat(batch.parameters["as_of"]),
    )
    report(1, 1)
    batch.result = {"inspections": draw.pk}
    batch.message = f"{len(draw.listed['inspections']):,} unknown lines are on the list."


def _orders(batch: Batch, report: Report) -> None:
    asked = batch.parameters
    plan = Plan.objects.get(pk=asked["orders_of"])
    told = plan_orders_make(
        plan=plan,
        year=int(asked["year"]),
        shares={int(pk): float(share) for pk, share in asked["shares"].items()},
        by=batch.requested_by,
        at=batch.started_at or batch.created_at,
        report=report,
    )
    batch.result = {"plan": plan.pk, **told}
    batch.message = orders_sentence(told)
