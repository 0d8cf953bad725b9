"""What the worker does for a plan: draw it, or make the season's orders of the adopted one."""

from collections.abc import Callable
from datetime import date

from program.models import Plan
from program.operations.plans.adopting import orders_sentence, plan_orders_make
from program.operations.plans.drawing import plan_draw
from program.queries.planning.asked import PlanError
from services_inventory.models import Batch
from services_inventory.operations.batches import BatchError

Report = Callable[[int, int], None]


def plan_run(*, batch: Batch, report: Report) -> None:
    """Draw the plan that a batch asks for, or make the orders of an adopted one."""
    run = _orders if "orders_of" in batch.parameters else _draw
    try:
        run(batch, report)
    except PlanError as error:
        raise BatchError(str(error)) from error
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
