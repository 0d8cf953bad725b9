"""What the worker does for a plan: draw it, or make the season's orders of the adopted one."""

from collections.abc import Callable
from datetime import date

from program.operations.plans.asked import PlanError
from program.operations.plans.drawing import plan_draw
from services_inventory.models import Batch
from services_inventory.operations.batches import BatchError

Report = Callable[[int, int], None]


def plan_run(*, batch: Batch, report: Report) -> None:
    """Draw the plan that a batch asks for (settings, name, as_of)."""
    asked = batch.parameters
    try:
        plan = plan_draw(
            settings=asked["settings"],
            name=asked.get("name", ""),
            by=batch.requested_by,
            at=batch.started_at or batch.created_at,
            as_of=date.fromisoformat(asked["as_of"]),
            report=report,
        )
    except PlanError as error:
        raise BatchError(str(error)) from error
    batch.result = {"plan": plan.pk}
    batch.message = f"{plan.name}: {plan.status.lower()}."
    batch.state = batch.State.APPLIED
