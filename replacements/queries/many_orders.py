"""Which of many lines can be ordered at once, and why the others are left out."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from services_inventory.models import ServiceLine

from ..models import Consent, WorkOrder

_TO_REPLACE = ("LEAD", "GRR")
_NO = (Consent.Answer.REFUSED, Consent.Answer.REVOKED)


@dataclass(frozen=True)
class Orderable:
    """Lines that can be ordered, and how many are left out; each line is counted once."""

    lines: QuerySet[ServiceLine]
    number: int
    unknown: int
    settled: int
    ordered: int
    refused: int


def orderable(chosen: Q) -> Orderable:
    """Return what can be ordered of the lines that a condition keeps."""
    answers = Consent.objects.filter(line=OuterRef("pk")).order_by("-answered_on", "-id")
    rows = ServiceLine.objects.filter(chosen, category__isnull=False).annotate(
        has_order=Exists(
            WorkOrder.objects.filter(line=OuterRef("pk"), state__in=WorkOrder.OPEN_STATES)
        ),
        said=Coalesce(Subquery(answers.values("answer")[:1]), Value("")),
    )
    known = Q(category__in=_TO_REPLACE)
    free, no = known & Q(has_order=False), Q(said__in=_NO)
    counts = rows.aggregate(
        number=Count("pk", filter=free & ~no),
        unknown=Count("pk", filter=Q(category="UNKNOWN")),
        settled=Count("pk", filter=Q(category="NON_LEAD")),
        ordered=Count("pk", filter=known & Q(has_order=True)),
        refused=Count("pk", filter=free & no),
    )
    return Orderable(rows.filter(free & ~no), **counts)
