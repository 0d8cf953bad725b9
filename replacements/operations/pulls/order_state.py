"""What estimate, start and log ask of an order."""

from ...models import ToolStringRecord, WorkOrder
from ..work_orders import State
from .errors import PullRefused

PLANNING = "planning rule of this program [judgment]"


def owner_key_of(work_order: WorkOrder) -> str:
    """Return the key that ties a contractor's documents to the contractor."""
    return f"contractor:{work_order.contractor_id}"


def latest_string(work_order: WorkOrder) -> ToolStringRecord | None:
    """Return the tool string recorded last for an order."""
    return work_order.tool_strings.order_by("-id").first()


def refuse_state(order: WorkOrder) -> None:
    """Refuse an order that is not with its contractor.

    Raises
    ------
    PullRefused: the order is planned, waits for review, or is finished.
    """
    if order.state not in (State.RELEASED, State.RETURNED):
        raise PullRefused(
            f"{order.number} is {order.get_state_display()}; only released work can go on."
        )
