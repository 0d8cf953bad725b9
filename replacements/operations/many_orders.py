"""Orders for many lines at once, in a package of their own; and all planned ones called off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet

from ..models import Contractor, WorkOrder, WorkPackage
from ..queries.many_orders import orderable
from .work_orders import WorkOrderError, work_order_call_off, work_order_create

MOST = 500  # orders of one package: more is a plan's work


@dataclass(frozen=True)
class Made:
    """The package, how many orders it got, and the sentences of lines that were refused."""

    package: WorkPackage
    orders: int
    problems: list[str]


@transaction.atomic
def orders_make(
    *, lines: Q, contractor: Contractor, name: str, due_on: date, by: str, at: datetime
) -> Made:
    """Make a planned order for each line that can be ordered, in a new package.

    Raises
    ------
    WorkOrderError: no line can be ordered, they are too many, or the package's name is taken.
    """
    found = orderable(lines)
    if not found.number:
        raise WorkOrderError("None of these lines can be ordered: see what is left out and why.")
    if found.number > MOST:
        raise WorkOrderError(
            f"{found.number:,} lines can be ordered, and a package holds at most {MOST}: choose "
            "fewer, or make the orders from a plan."
        )
    try:
        with transaction.atomic():
            package = WorkPackage.objects.create(
                contractor=contractor, name=name.strip()[:120], year=due_on.year, due_on=due_on,
                created_by=by, created_at=at,
            )  # fmt: skip
    except IntegrityError:
        raise WorkOrderError(
            f"{contractor.name} has a package {name.strip()} already: choose another name."
        ) from None
    made, problems = 0, []
    street = ("premise__street_key", "premise__house_number", "pk")
    for line in found.lines.select_related("premise", "decision").order_by(*street):
        try:
            work_order_create(
                line=line, contractor=contractor, package=package, due_on=due_on, by=by, at=at
            )
        except WorkOrderError as error:
            problems.append(f"{line.location_id}: {error}")
            continue
        made += 1
    return Made(package, made, problems)


@transaction.atomic
def orders_call_off(*, orders: QuerySet[WorkOrder], reason: str, by: str, at: datetime) -> int:
    """Call off those of some orders that are planned and not released; how many they are.

    Raises
    ------
    WorkOrderError: no reason is given.
    """
    if not reason.strip():
        raise WorkOrderError("Say why: it stands with each order that is called off.")
    planned = list(orders.filter(state=WorkOrder.State.PLANNED))
    for order in planned:
        work_order_call_off(work_order=order, by=by, at=at, reason=reason)
    return len(planned)
