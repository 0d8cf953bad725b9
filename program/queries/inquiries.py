"""Customers' messages as staff look for them: open ones by last day, any by number or place."""

from collections.abc import Iterator

from django.db.models import Q, QuerySet

from program.models import Inquiry
from replacements.models import Consent
from services_inventory.domain.addresses import normalize
from services_inventory.given import day_and_number_given, number_given
from services_inventory.models import ServiceLine

PAGE = 50
PLACES = 8


def inquiry_page(
    *, answered: bool, text: str, after: str, kind: str = ""
) -> tuple[list[Inquiry], str]:
    """Return one page of messages and the mark of the next page.

    Open ones come by their last day, answered ones newest first. A text looks in both.
    """
    rows = Inquiry.objects.select_related("line__premise", "photo")
    rows = rows.filter(_about(text)) if text else rows.filter(answered_on__isnull=not answered)
    if kind:
        rows = rows.filter(kind=kind)
    if answered or text:
        rows = rows.order_by("-id")
        if (mark := number_given(after, "Page of messages")) is not None:
            rows = rows.filter(id__lt=mark)
    else:
        rows = _following(rows.order_by("due_on", "id"), after)
    found = list(rows[: PAGE + 1])
    more = found[PAGE - 1] if len(found) > PAGE else None
    mark = f"{more.due_on}_{more.pk}" if more and not (answered or text) else more and str(more.pk)
    return found[:PAGE], mark or ""


def _following(rows: QuerySet, after: str) -> QuerySet:
    mark = day_and_number_given(after, "Page of messages")
    if mark is None:
        return rows
    day, number = mark
    return rows.filter(Q(due_on__gt=day) | Q(due_on=day, id__gt=number))


def _about(text: str) -> Q:
    """Messages with this number, about this line, or that name this place or person."""
    found = Q(address_given__icontains=text) | Q(name__icontains=text)
    found |= Q(contact__icontains=text) | Q(line__location_id=text)
    found |= Q(line__premise__address__icontains=text)
    if key := normalize(text).key:
        found |= Q(line__premise__address_key=key)
    if text.isascii() and text.isdecimal() and len(text) < 19:
        found |= Q(pk=int(text))
    return found


def lines_known_as(text: str) -> list[ServiceLine]:
    """Return the lines with this location identifier or exactly this address, at most eight."""
    known_as = Q(location_id=text.strip())
    if key := normalize(text).key:
        known_as |= Q(premise__address_key=key)
    return list(
        ServiceLine.objects.filter(known_as).select_related("premise").order_by("id")[:PLACES]
    )


def consent_of(inquiry: Inquiry) -> Consent | None:
    """Return the consent that was recorded of what somebody agreed to on line."""
    if inquiry.line is None:
        return None
    return inquiry.line.consents.filter(note__startswith=agreed_note(inquiry)).first()


def agreed_note(inquiry: Inquiry) -> str:
    """Return how a consent tells of the message it was made of."""
    return f"Agreed on line, inquiry {inquiry.pk}. "


COLUMNS = (
    "number", "kind", "received_on", "answer_by", "address_given", "location_id", "language",
    "replaced_on", "photo", "inspection_ordered_on", "inspected_on", "answered_on", "days_late",
)  # fmt: skip


def inquiry_rows() -> Iterator[tuple]:
    """Yield every message with its clocks, oldest first, without names and what was written."""
    wanted = (
        "id", "kind", "received_on", "due_on", "address_given", "line__location_id", "language",
        "replaced_on", "photo_id", "inspection_ordered_on", "inspected_on", "answered_on",
    )  # fmt: skip
    for row in Inquiry.objects.order_by("id").values_list(*wanted).iterator(chunk_size=5_000):
        *said, photo, ordered, inspected, answered = row
        late = max(0, (answered - row[3]).days) if answered and row[3] else ""
        yield (*said, "yes" if photo else "no", ordered, inspected, answered, late)
