"""Ordering that somebody looks at a pipe: at one line, or at many that a list keeps."""

from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from services_inventory.refused import Refused

from ..models import InspectionOrder, ServiceLine

MOST = 5_000


def unordered(chosen: Q) -> QuerySet[ServiceLine]:
    """Return the unknown lines that a condition keeps and nobody is sent to look at."""
    waiting = InspectionOrder.objects.waiting().filter(line=OuterRef("pk"))
    return ServiceLine.objects.filter(chosen, ~Exists(waiting), category="UNKNOWN")


@transaction.atomic
def inspections_order(*, chosen: Q, look_at: str, by: str, at: datetime) -> str:
    """Order an inspection of every unknown line that a condition keeps; say how many.

    Raises
    ------
    Refused: there is none, all are ordered already, or they are too many at once.
    """
    rows = ServiceLine.objects.select_for_update()
    pks = list(unordered(chosen).order_by("pk").values_list("pk", flat=True)[: MOST + 1])
    if len(pks) > MOST:
        raise Refused(
            f"More than {MOST:,} lines can't be ordered at once. Narrow the list, for instance "
            "to one neighborhood, and order those."
        )
    # Whoever orders the same lines at this moment waits here, and then finds them ordered.
    list(rows.filter(pk__in=pks).order_by("pk").values_list("pk"))
    pks = list(unordered(Q(pk__in=pks)).values_list("pk", flat=True))
    if not pks:
        raise Refused(
            "Nothing to order: none of these lines is unknown and without an inspection ordered."
        )
    told = {"look_at": look_at.strip()[:300], "recorded_by": by, "recorded_at": at}
    InspectionOrder.objects.bulk_create(InspectionOrder(line_id=pk, **told) for pk in pks)
    return f"{len(pks):,} inspection{'' if len(pks) == 1 else 's'} ordered."


def ordered(chosen: Q) -> QuerySet[InspectionOrder]:
    """Return the inspections that wait, of the lines that a condition keeps."""
    lines = ServiceLine.objects.filter(chosen).values("pk")
    return InspectionOrder.objects.waiting().filter(line__in=lines)


def inspections_take_back(*, chosen: Q, reason: str, by: str, at: datetime) -> str:
    """Take back every inspection that waits, of the lines that a condition keeps; say how many.

    Raises
    ------
    Refused: no reason is given, or none waits.
    """
    if not reason.strip():
        raise Refused("Say why they are taken back.")
    waiting = ordered(chosen).values("pk")
    number = InspectionOrder.objects.filter(pk__in=waiting).take_back(by, at, reason)
    if not number:
        raise Refused("Nothing to take back: no inspection of these lines waits.")
    return f"{number:,} inspection{'' if number == 1 else 's'} taken back: nobody is sent to look."
