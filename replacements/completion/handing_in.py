"""Handing in a record from a device or a bundle: its photos are the order's own and are read."""

from collections.abc import Iterable, Sequence

from django.db import transaction

from services_inventory.models import Document

from ..models import CompletionRecord, PhotoFacts, WorkOrder
from ..operations.completions import CompletionError, completion_hand_in
from ..queries.photo_doubts import photo_doubts
from ..queries.stored import findings_kept


def record_hand_in(
    *, work_order: WorkOrder, photos: Sequence[Document] = (), **rest
) -> CompletionRecord:
    """Hand in a record as `completion_hand_in` does, with what its photos make one doubt.

    Raises
    ------
    CompletionError: a photo was sent for another order, or the record cannot be handed in.
    """
    facts = _facts_of(work_order, photos)
    with transaction.atomic():
        record = completion_hand_in(work_order=work_order, photos=photos, **rest)
        doubts = photo_doubts(work_order, facts).values()
        more = findings_kept([finding for found in doubts for finding in found])
        known = [finding.get("message") for finding in record.findings]
        more = [finding for finding in more if finding["message"] not in known]
        if more and getattr(record, "review", None) is None:
            record.findings = [*record.findings, *more]
            record.save(update_fields=["findings"])
    return record


def _facts_of(order: WorkOrder, photos: Iterable[Document]) -> list[PhotoFacts]:
    """Return what the photos said of themselves; each was sent for the order, now or before."""
    rows = PhotoFacts.objects.filter(work_order=order, document__in=photos)
    facts = list(rows.select_related("document").order_by("document_id"))
    own = {*(fact.document_id for fact in facts), *photos_before(order)}
    for photo in photos:
        if photo.pk not in own:
            raise CompletionError(f"The photo {photo.name} was not sent for {order.number}.")
    return facts


def photos_before(order: WorkOrder) -> set[int]:
    """Return the numbers of what earlier records of an order were handed in with."""
    rows = CompletionRecord.photos.through.objects.filter(completionrecord__work_order=order)
    return set(rows.values_list("document_id", flat=True))
