"""Other utilities near a run: recorded, corrected and withdrawn by whoever saw them."""

import math
from datetime import datetime

from django.db import transaction

from services_inventory.refused import Refused

from ..domain.ground import OtherLine, UtilityKind
from ..models import NearbyLine, WorkOrder
from .work_orders import State, locked

OPEN = (State.PLANNED, State.RELEASED, State.RETURNED)


def nearby_line_record(
    *,
    work_order: WorkOrder,
    line: OtherLine,
    by: str,
    at: datetime,
    note: str = "",
    instead_of: NearbyLine | None = None,
) -> NearbyLine:
    """Record another utility near the run of an order; `instead_of` corrects an earlier record.

    Raises
    ------
    Refused: the order is finished, a figure cannot be, or the corrected record is withdrawn
        already.
    """
    with transaction.atomic():
        order = _open_order(work_order)
        _refuse_figures(order, line)
        if instead_of is not None:
            _withdraw(instead_of, by, at, "Corrected.")
        return NearbyLine.objects.create(
            work_order=order,
            kind=UtilityKind(line.kind).value,
            crossing=line.crossing,
            at_ft=line.at_ft,
            separation_in=line.separation_in,
            exposed=line.exposed,
            rigid=line.rigid,
            relieved=line.relieved,
            note=note.strip(),
            recorded_by=by,
            recorded_at=at,
        )


def nearby_line_withdraw(*, nearby: NearbyLine, by: str, at: datetime, reason: str) -> NearbyLine:
    """Take a record of another utility back, with a reason; it is kept and no longer counted.

    Raises
    ------
    Refused: no reason is given, the order is finished, or the record is withdrawn already.
    """
    if not reason.strip():
        raise Refused("Say why the line is no longer to be counted.")
    with transaction.atomic():
        _open_order(nearby.work_order)
        return _withdraw(nearby, by, at, reason.strip())


def _open_order(work_order: WorkOrder) -> WorkOrder:
    order = locked(work_order)
    if order.state not in OPEN:
        raise Refused(f"{order.number} is {order.get_state_display()}; it stays so.")
    return order


def _withdraw(nearby: NearbyLine, by: str, at: datetime, reason: str) -> NearbyLine:
    if not NearbyLine.withdraw(nearby.pk, by, at, reason):
        raise Refused("That record was withdrawn already; look at the order again.")
    nearby.refresh_from_db()
    return nearby


def _refuse_figures(order: WorkOrder, line: OtherLine) -> None:
    for value in (line.at_ft, line.separation_in):
        if value is not None and not (math.isfinite(value) and value < 1000):
            raise Refused(f"{value:g} cannot be measured on a service line.")
    if line.at_ft is not None and (
        line.at_ft < 0 or (order.length_ft and line.at_ft > order.length_ft)
    ):
        raise Refused(
            f"A crossing at {line.at_ft:g} ft lies outside the run of {order.length_ft or 0:g} ft; "
            "count from the pit where the new pipe enters."
        )
    if line.exposed and line.separation_in is None:
        raise Refused("A line that was exposed has a measured distance; write it down.")
    if line.relieved and not line.exposed:
        raise Refused("Ground can be dug away only beside a line that is exposed.")
