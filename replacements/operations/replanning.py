"""Planning an order again after one that ended without a result."""

from datetime import datetime

from django.db import transaction

from ..models import Contractor, NearbyLine, WorkOrder
from .work_orders import WorkOrderError, change_append, work_order_create


@transaction.atomic
def work_order_again(
    *, earlier: WorkOrder, contractor: Contractor, by: str, at: datetime, **particulars
) -> WorkOrder:
    """Make a new order for a line in place of one that was called off.

    The other lines near the run that are on record come along: who digs next must know of them.

    Parameters
    ----------
    particulars : as `work_order_create` takes them

    Raises
    ------
    WorkOrderError: the earlier order isn't called off, or the new one cannot be.
    """
    if earlier.state != WorkOrder.State.CALLED_OFF:
        raise WorkOrderError(
            f"{earlier.number} is {earlier.get_state_display()}; only an order that was called "
            "off is planned again."
        )
    order = work_order_create(line=earlier.line, contractor=contractor, by=by, at=at, **particulars)
    change_append(
        order, order.state, order.state, by, at, f"Planned again: {earlier.number}"
    ).save()
    NearbyLine.objects.bulk_create(_carried(earlier, order))
    return order


def _carried(earlier: WorkOrder, order: WorkOrder) -> list[NearbyLine]:
    lines = list(earlier.nearby_lines.standing().order_by("id"))
    for line in lines:
        line.pk, line.work_order = None, order
        line.note = line.note or f"From {earlier.number}"
    return lines
