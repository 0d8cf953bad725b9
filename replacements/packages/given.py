"""What the office fills in of an order, on every form and map that goes out."""

from ..completion.columns import ORDER
from ..domain.pipes import PipeError
from ..models import WorkOrder
from ..queries.planned_pull import new_pipe_of, old_pipe_of

PACK_ORDERS = 300  # orders in one print pack


def given_of(order: WorkOrder) -> dict[str, object]:
    """Return what the office fills in of an order."""
    return {
        ORDER: order.number,
        "address": order.line.premise.address,
        "old_pipe": _label(old_pipe_of, order),
        "new_pipe": _label(new_pipe_of, order),
        "ordered_ft": order.length_ft,
    }


def _label(of, order: WorkOrder) -> str:
    try:
        return of(order).label
    except PipeError:
        return "measure"
