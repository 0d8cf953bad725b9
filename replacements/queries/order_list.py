"""The list of work orders within what a user may see: filtered, in pages by key."""

from dataclasses import dataclass

from django.db.models import Count, QuerySet

from services_inventory.given import number_given

from ..models import WorkOrder

PAGE = 16


@dataclass(frozen=True)
class Page:
    """One page of orders, the newest first, and the key where the next begins."""

    orders: tuple[WorkOrder, ...]
    after: int | None


def orders_filtered(user, *, state="", contractor="", neighborhood="", number="") -> QuerySet:
    """Return the user's orders within the filters given.

    Raises
    ------
    NotANumber: the contractor or the neighborhood is no number.
    """
    orders = WorkOrder.objects.visible_to(user)
    if state in WorkOrder.State.values:
        orders = orders.filter(state=state)
    if (company := number_given(contractor, "Contractor")) is not None:
        orders = orders.filter(contractor_id=company)
    if (place := number_given(neighborhood, "Neighborhood")) is not None:
        orders = orders.filter(line__neighborhood_id=place)
    if number:
        orders = orders.filter(number__icontains=number.strip()) | orders.filter(
            line__premise__address__icontains=number.strip()
        )
    return orders


def may_plan_again(order: WorkOrder) -> bool:
    """Tell whether an order ended without a result and its line still waits for one."""
    if order.state != WorkOrder.State.CALLED_OFF or order.line.category == "NON_LEAD":
        return False
    return not order.line.work_orders.filter(state__in=WorkOrder.OPEN_STATES).exists()


def order_page(orders: QuerySet, before: str = "") -> Page:
    """Return a page of orders with a smaller key than `before`, the newest first."""
    if (mark := number_given(before, "Page of orders")) is not None:
        orders = orders.filter(pk__lt=mark)
    found = list(
        orders.select_related("line__premise", "line__neighborhood", "contractor", "crew")
        .order_by("-pk")[: PAGE + 1]
    )  # fmt: skip
    more = len(found) > PAGE
    return Page(tuple(found[:PAGE]), found[PAGE - 1].pk if more else None)


def state_counts(user) -> list[tuple[str, str, int]]:
    """Return (state, label, number) of the user's orders, in the order of the work."""
    rows = WorkOrder.objects.visible_to(user).values_list("state").annotate(n=Count("*"))
    counts = dict(rows.order_by())
    return [(s.value, s.label, counts.get(s.value, 0)) for s in WorkOrder.State]
