"""What waits for a person of the staff: by kind, how many, and since when the oldest does."""

from dataclasses import dataclass
from datetime import date

from django.db.models import (
    Count,
    DateField,
    Exists,
    Min,
    OuterRef,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Cast, TruncDate
from django.urls import reverse

from program.queries.planning.pace import answers_standing
from program.queries.planning.stuck import stuck_lines
from replacements.models import CompletionRecord, CompletionReview
from services_inventory.models import Batch, Conflict, MatchQuestion
from services_inventory.queries.held import held_everywhere


@dataclass(frozen=True)
class Waiting:
    """One kind of thing that waits: how many, the oldest day, and the list that holds them."""

    what: str
    number: int
    oldest: date | None
    address: str


def waits_for(user, as_of: date) -> list[Waiting]:
    """Return what waits for somebody who may settle it, the oldest first; asked at once."""
    asked = [
        row.annotate(of=Value(key)).values_list("of").annotate(n=Count("pk"), since=Min("day"))
        for key, (permission, *_) in _KINDS.items()
        if user.has_perm(permission)
        for row in [_rows(key, as_of).order_by()]
    ]
    if not asked:
        return []
    first, *rest = asked
    found = [
        Waiting(one if number == 1 else more, number, since, reverse(page) + behind)
        for key, number, since in first.union(*rest, all=True)
        for _, one, more, page, behind in [_KINDS[key]]
        if number
    ]
    return sorted(found, key=lambda row: (row.oldest or as_of, row.what))


def _rows(key: str, as_of: date) -> QuerySet:
    """Return the rows of one kind, each with the `day` since when it waits."""
    if key == "REVIEW":
        rows = CompletionRecord.objects.filter(review=None, work_order__state="HANDED_IN")
        return rows.annotate(day=TruncDate("handed_in_at"))
    if key == "RETURNED":
        later = CompletionRecord.objects.filter(
            work_order=OuterRef("completion__work_order"),
            revision__gt=OuterRef("completion__revision"),
        )
        rows = CompletionReview.objects.filter(
            ~Exists(later), answer="RETURNED", completion__work_order__state="RETURNED"
        )
        return rows.annotate(day=TruncDate("reviewed_at"))
    if key == "CHECKED":
        rows = Batch.objects.filter(kind="INTAKE", state="CHECKED")
        return rows.annotate(day=TruncDate("created_at"))
    if key == "MATCHES":
        rows = MatchQuestion.objects.waiting()
        return rows.annotate(day=TruncDate("batch__created_at"))
    if key == "HELD":
        return held_everywhere().annotate(day=TruncDate("batch__created_at"))
    if key == "CONFLICTS":
        return Conflict.objects.filter(resolved_at=None).annotate(day=TruncDate("opened_at"))
    last = answers_standing(as_of).filter(line=OuterRef("pk")).order_by("-answered_on", "-id")
    return stuck_lines("REFUSED", as_of).annotate(
        day=Cast(Subquery(last.values("answered_on")[:1]), DateField())
    )


# key: who may settle it, one, more, the page with its list, and what stands behind its address
_KINDS = {
    "REVIEW": ("replacements.review_work", "finished job to review", "finished jobs to review",
               "review_queue", ""),
    "RETURNED": ("replacements.plan_work", "job returned, not yet mended",
                 "jobs returned, not yet mended", "work_order_list", "?state=RETURNED"),
    "REFUSED": ("replacements.record_access", "owner who refused", "owners who refused",
                "stuck", "?kind=REFUSED"),
    "CHECKED": ("services_inventory.intake", "file checked, not taken in",
                "files checked, not taken in", "batch_list", ""),
    "MATCHES": ("services_inventory.intake", "row to say which line it means",
                "rows to say which line they mean", "match_list", ""),
    "HELD": ("services_inventory.intake", "row held back, to be mended",
             "rows held back, to be mended", "batch_list", ""),
    "CONFLICTS": ("services_inventory.view_serviceline", "line whose evidence contradicts itself",
                  "lines whose evidence contradicts itself", "conflict_list", ""),
}  # fmt: skip
