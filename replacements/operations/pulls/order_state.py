"""What estimate, start and log ask of an order."""

from ...models import WorkOrder
from ..work_orders import State
from .errors import PullRefused


def owner_key_of(work_order: WorkOrder) -> str:
    """Return the key that ties a contractor's documents to the contractor."""
    return f"contractor:{work_order.contractor_id}"


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
