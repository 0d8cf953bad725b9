"""What a closed block face touches: lines, areas of the plan in force, and open orders."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q

from program.models import Plan, PlanArea
from program.queries.planning.pool import OPEN
from replacements.models import StreetClosure, WorkOrder
from replacements.queries.closures import lines_on, premises_on


@dataclass(frozen=True)
class Touched:
    """What a closure covers; counts are of lines and orders.

    areas : those of the plan in force with lines there, whose days meet the closure
    orders : open orders on its lines, the next due first
    """

    closure: StreetClosure
    lines: int
    still_open: int
    first_address: str
    last_address: str
    areas: list[PlanArea]
    orders: list[WorkOrder]


def touched_by(closure: StreetClosure) -> Touched:
    """Return what a closure covers today."""
    lines = lines_on(closure)
    addresses = list(premises_on(closure).values_list("address", flat=True))
    days = Q(starts_on__lte=closure.last_day, ends_on__gte=closure.first_day)
    areas = PlanArea.objects.filter(
        days, plan__state=Plan.State.ADOPTED, lines__line__in=lines.order_by().values("id")
    )
    orders = WorkOrder.objects.filter(
        state__in=WorkOrder.OPEN_STATES, line__in=lines.order_by().values("id")
    )
    return Touched(
        closure,
        lines.count(),
        lines.filter(category__in=OPEN).count(),
        addresses[0] if addresses else "",
        addresses[-1] if addresses else "",
        list(areas.distinct().order_by("starts_on", "key")[:12]),
        list(orders.select_related("contractor").order_by("due_on", "id")[:12]),
    )
