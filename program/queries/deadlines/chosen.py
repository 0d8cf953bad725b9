"""Whom a calendar is for: everybody, or the lines of one address, one line, one inquiry."""

import re
from dataclasses import dataclass

from django.db.models import Q

from program.models import Inquiry
from services_inventory.models import ServiceLine
from services_inventory.queries.addresses import address_matches

MOST_LINES = 200
_INQUIRY = re.compile(r"(?:inquiry|message)\s*#?\s*(\d{1,9})", re.IGNORECASE)


class NothingFound(Exception):
    """What was asked for is not in the record; the message says what can be asked for."""


@dataclass(frozen=True)
class Chosen:
    """A part of the record: of these lines, or this inquiry alone."""

    words: str
    line_ids: tuple[int, ...] = ()
    inquiry_id: int | None = None

    def of_line(self, field: str = "line") -> Q:
        """Return the condition that keeps rows of the chosen lines."""
        return Q(**{f"{field}__in": self.line_ids})

    def inquiries(self) -> Q:
        """Return the condition that keeps the chosen inquiries."""
        return Q(pk=self.inquiry_id) if self.inquiry_id else self.of_line()


def chosen_by(text: str) -> Chosen:
    """Read a line's identifier, an address or "inquiry 12".

    Raises
    ------
    NothingFound: no line, address or inquiry is called so, or the address is not one place.
    """
    text = text.strip()[:200]
    inquiry = _INQUIRY.fullmatch(text)
    if inquiry:
        return _inquiry(int(inquiry[1]))
    line = ServiceLine.objects.filter(location_id=text).values_list("id", flat=True).first()
    if line:
        return Chosen(f"line {text}", (line,))
    found = ServiceLine.objects.filter(address_matches(text), category__isnull=False)
    ids = tuple(found.order_by("id").values_list("id", flat=True)[: MOST_LINES + 1])
    if not ids:
        raise NothingFound(
            f"Nothing is called {text!r}; write a line's identifier, an address or “inquiry 12”."
        )
    if len(ids) > MOST_LINES:
        raise NothingFound(f"{text!r} names more than {MOST_LINES} lines; write the house number.")
    return Chosen(f"address {text}", ids)


def _inquiry(pk: int) -> Chosen:
    if not Inquiry.objects.filter(pk=pk).exists():
        raise NothingFound(f"There is no inquiry {pk}; the list of inquiries has their numbers.")
    return Chosen(f"who wrote inquiry {pk}", (), pk)
