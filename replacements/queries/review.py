"""Records that wait for the utility's answer."""

from collections.abc import Sequence
from datetime import date

from services_inventory.given import number_given
from services_inventory.models import Document

from ..models import CompletionRecord, WorkOrder
from .effect import effect_of
from .pull_review import other_stops, unexplained, weighed_by_order

PAGE = 10


def last_record(order: WorkOrder) -> CompletionRecord | None:
    """Return the record that was handed in last for an order, with its answer."""
    return order.completions.select_related("review").order_by("-revision").first()


def photos_kept(
    order: WorkOrder, sent: Sequence[Document], last: CompletionRecord | None, ids=()
) -> list[Document]:
    """Return the photos that a record would have: of each kind what came last.

    Parameters
    ----------
    sent : now
    ids : of documents sent before for this order, with a form that was not handed in
    """
    own = Document.objects.filter(pk__in=ids, kind__startswith="PHOTO_",
                                  owner_key=f"contractor:{order.contractor_id}")  # fmt: skip
    rows = [*(last.photos.order_by("id") if last else ()), *own.order_by("id"), *sent]
    return list({photo.kind: photo for photo in rows}.values())


def waiting(after: str, as_of: date, by: str, user_id: int) -> dict:
    """Return a page of waiting records with what each will change, the oldest first.

    A reviewer's own records are shown but cannot be ticked.
    """
    records = CompletionRecord.objects.filter(
        review__isnull=True, work_order__state="HANDED_IN"
    ).select_related(
        "work_order__line__premise", "work_order__line__decision", "work_order__contractor", "pull"
    )
    if (mark := number_given(after, "Page of records")) is not None:
        records = records.filter(pk__gt=mark)
    found = list(records.order_by("pk")[: PAGE + 1])
    pulls = weighed_by_order(record.work_order_id for record in found[:PAGE])
    rows = [
        _row(record, pulls[record.work_order_id], as_of, by, user_id) for record in found[:PAGE]
    ]
    return {"rows": rows, "after": found[PAGE - 1].pk if len(found) > PAGE else None}


def _row(record: CompletionRecord, pulls: list, as_of: date, by: str, user_id: int) -> dict:
    own = record.handed_in_by == by or record.handed_in_by_user_id == user_id
    return {
        "record": record,
        "effect": effect_of(record, as_of),
        "stops": len(other_stops(record.findings)) + len(unexplained(pulls)),
        "pulls": pulls,
        "cautions": sum(f["level"] == "CAUTION" for f in record.findings),
        "own": own,
    }
