"""Pages of a long list by the keys of the row one stands at: any depth costs the same.

An order is a list of segments, each with its own keys; the last key of each is the row's id,
so that no two rows share a place. A page is read range by range: rows with equal leading keys
first, then the next; every range is one walk along an index.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import islice

from django.core import signing
from django.db.models import Model, Q, QuerySet

from ..given import number_given

PAGE_SIZE = 50
MOST_LEADS = 2000
_SALT = "keyset"


@dataclass(frozen=True)
class Lead:
    """What the rows hang on, where that gives the order: a table in the order of its own keys.

    The rows of the next few leads are fetched by their foreign key, so that every step is a
    walk along an index whatever else the rows are narrowed by.
    """

    model: type[Model]
    keys: tuple[str, ...]
    foreign_key: str


@dataclass(frozen=True)
class Segment:
    """Rows that are ordered by these fields, of which the first are those of a lead, if any."""

    keys: tuple[str, ...]
    condition: Q = Q()
    lead: Lead | None = None


@dataclass(frozen=True)
class Order:
    """One way to order a list, and what a person calls it."""

    key: str
    label: str
    segments: tuple[Segment, ...]

    def of_few(self) -> "Order":
        """Return the same order for rows so few that sorting them is the cheapest."""
        return replace(self, segments=tuple(replace(part, lead=None) for part in self.segments))


class BadPlace(Exception):
    """The address names no place in this list."""


@dataclass(frozen=True)
class Page:
    """Rows of one page, and the places before and after it (empty text where it ends)."""

    rows: list
    previous: str
    next: str


def place_of(row, order: Order) -> str:
    """Return a short signed text for the place of a row in the order."""
    for number, segment in enumerate(order.segments):
        values = [_value(row, key) for key in segment.keys]
        if None not in values:
            return signing.dumps([order.key, number, *values], salt=_SALT)
    raise BadPlace(f"{row} has no place in the order by {order.key}.")


def _value(row, key: str):
    for name in key.split("__"):
        row = getattr(row, name)
    return row.isoformat() if isinstance(row, date) else row


def _read(text: str, order: Order) -> tuple[int, list]:
    try:
        key, number, *values = signing.loads(text, salt=_SALT)
        same = key == order.key and len(values) == len(order.segments[number].keys)
    except (signing.BadSignature, ValueError, IndexError, TypeError):
        same = False
    if not same:
        raise BadPlace("This place in the list is not known any more.")
    return number, values


def part_of(rows: Sequence, after: str, size: int) -> tuple[Sequence, int | None]:
    """Return some rows of a list behind the one named, and behind which the next begin.

    Raises
    ------
    NotANumber: what is named is no number.
    """
    mark = number_given(after, "Part of the list")
    start = next((place for place, row in enumerate(rows, start=1) if row.pk == mark), 0)
    part = rows[start : start + size]
    return part, part[-1].pk if start + size < len(rows) else None


def page(rows: QuerySet, order: Order, after: str = "", before: str = "", size=PAGE_SIZE) -> Page:
    """Return the page after or before a place, or the first.

    Raises
    ------
    BadPlace: the place is of another order, or somebody wrote it by hand.
    """
    found = list(islice(_walk(rows, order, after or before, bool(before), size + 1), size + 1))
    more = len(found) > size
    shown = found[:size][::-1] if before else found[:size]
    if not shown:
        return Page([], "", "")
    has_previous, has_next = (more, True) if before else (bool(after), more)
    return Page(
        shown,
        place_of(shown[0], order) if has_previous else "",
        place_of(shown[-1], order) if has_next else "",
    )


def ids_near(ids: list[int], order: Order, after: str = "", before: str = "") -> list[int]:
    """Return those of known ids that one page needs, in an order by id alone.

    Raises
    ------
    BadPlace: the place is of another order, or somebody wrote it by hand.
    """
    ordered, place = sorted(ids), after or before
    if not place:
        return ordered[: PAGE_SIZE + 1]
    at = _read(place, order)[1][-1]
    if after:
        return ordered[bisect_right(ordered, at) :][: PAGE_SIZE + 1]
    return ordered[: bisect_left(ordered, at)][-PAGE_SIZE - 1 :]


def _walk(rows: QuerySet, order: Order, place: str, backward: bool, size: int) -> Iterator:
    """Yield rows from a place on; each range is asked only when those before ran out."""
    number, values = _read(place, order) if place else (0, [])
    segments = list(enumerate(order.segments))
    segments = segments[: number + 1][::-1] if backward else segments[number:]
    for at, segment in segments:
        walk = _along_lead if segment.lead else _along_keys
        yield from walk(
            rows.filter(segment.condition), segment, values if at == number else [], backward, size
        )


def _along_keys(rows: QuerySet, segment: Segment, values: list, backward: bool, size: int):
    ordered = _ordered(rows, segment.keys, backward)
    for beyond in _ranges(segment.keys, values, backward):
        yield from ordered.filter(beyond)[:size]


def _along_lead(rows: QuerySet, segment: Segment, values: list, backward: bool, size: int):
    lead, at = segment.lead, []
    if values:
        at = values[:-1]
        same = {lead.foreign_key: at[-1], f"{segment.keys[-1]}__{_beyond(backward)}": values[-1]}
        yield from _ordered(rows.filter(**same), segment.keys[-1:], backward)[:size]
    while leads := list(islice(_leads(lead, at, backward, size), size)):
        places = {row[-1]: number for number, row in enumerate(leads)}
        found = rows.filter(**{f"{lead.foreign_key}__in": list(places)})
        yield from sorted(
            found,
            key=lambda row: (
                places[getattr(row, lead.foreign_key)],
                -row.pk if backward else row.pk,
            ),
        )
        at, size = list(leads[-1]), min(size * 4, MOST_LEADS)


def _leads(lead: Lead, at: list, backward: bool, size: int) -> Iterator[tuple]:
    ordered = _ordered(lead.model.objects.all(), lead.keys, backward).values_list(*lead.keys)
    for beyond in _ranges(lead.keys, at, backward):
        yield from ordered.filter(beyond)[:size]


def _ordered(rows: QuerySet, keys: tuple[str, ...], backward: bool) -> QuerySet:
    return rows.order_by(*(f"-{key}" if backward else key for key in keys))


def _beyond(backward: bool) -> str:
    return "lt" if backward else "gt"


def _ranges(keys: tuple[str, ...], values: list, backward: bool) -> Iterator[Q]:
    if not values:
        yield Q()
        return
    for depth in range(len(keys) - 1, -1, -1):
        equal = dict(zip(keys[:depth], values[:depth], strict=True))
        yield Q(**equal, **{f"{keys[depth]}__{_beyond(backward)}": values[depth]})
