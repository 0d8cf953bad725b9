"""What the search box finds: lines, streets, orders, people and pages, by what a person types.

Each kind is asked of an index or of a short list that is kept, so that an answer comes while
somebody types, in a record of a million lines too. Only what a user may open is found.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from urllib.parse import urlencode

from django.contrib.auth import get_user_model
from django.db.models import Q
from django.urls import reverse

from program.public.lookup import houses_on, read_typed
from program.roles import role_of
from program.rooms import pages_for
from replacements.models import Person, WorkOrder
from services_inventory.models import ServiceLine
from services_inventory.queries.lines import lines_shown

LEAST, MOST_TYPED = 2, 120
SHOWN, MOST = 6, 50  # of each kind, while typing and on a page
PEOPLE_ASKED = "People asked"


@dataclass(frozen=True)
class Found:
    """One thing that was found: its kind, what it is called, what tells it apart, where it is."""

    kind: str
    label: str
    detail: str
    address: str


def found(text: str, user, most: int = SHOWN) -> list[Found]:
    """Return at most `most` of each kind, the surest kinds first; nothing for too little text."""
    text = " ".join(text[:MOST_TYPED].replace("\0", " ").split())  # PostgreSQL refuses NUL
    if len(text) < LEAST:
        return []
    kinds = (_orders, _lines, _streets, _people, _accounts, _pages)
    return [one for kind in kinds for one in islice(kind(text, user), most)]


def _orders(text: str, user) -> Iterator[Found]:
    if not any(letter.isdigit() for letter in text):
        return
    digits = text.upper().removeprefix("ORDER").strip().removeprefix("#").removeprefix("W-")
    if not digits.isascii() or not digits.isdigit():
        return
    number = f"W-{int(digits):06d}"
    orders = WorkOrder.objects.visible_to(user).filter(number=number)
    for order in orders.select_related("line__premise"):
        yield Found(
            "Work orders", order.number,
            f"{order.line.premise.address or order.line.location_id}, {order.get_state_display()}",
            reverse("work_order", args=[order.pk]),
        )  # fmt: skip


def _lines(text: str, user) -> Iterator[Found]:
    if not user.has_perm("services_inventory.view_serviceline"):
        yield from _orders_at(text, user)
        return
    for line in _lines_like(text):
        yield Found(
            "Lines", line.premise.place or line.location_id,
            f"{line.location_id}, {line.get_category_display().lower()}",
            reverse("line", args=[line.pk]),
        )  # fmt: skip


def _lines_like(text: str) -> Iterator[ServiceLine]:
    """Return lines of this identifier, or one that begins so; else at an address like it."""
    lines = lines_shown()
    begin = Q(location_id__gte=text, location_id__lt=text + "\uffff")
    upper = text.upper()
    if upper != text:
        begin |= Q(location_id__gte=upper, location_id__lt=upper + "\uffff")
    named = list(lines.filter(begin).order_by("location_id")[:MOST])
    yield from named
    if not named:
        yield from _at_address(lines, text)


def _at_address(lines, text: str) -> list:
    streets, number = read_typed(text)
    if not streets or number is None:
        return []
    tries = (
        list(lines.filter(condition).order_by(*order)[:MOST])
        for condition, order in houses_on(streets, number)
    )
    return next(filter(None, tries), [])


def _orders_at(text: str, user) -> Iterator[Found]:
    """A contractor finds addresses among the orders of their company."""
    orders = WorkOrder.objects.visible_to(user).select_related("line__premise")
    near = orders.filter(
        Q(line__premise__address__icontains=text) | Q(line__location_id__iexact=text)
    )
    for order in near.order_by("-pk"):
        yield Found(
            "Work orders", order.line.premise.address or order.line.location_id,
            f"{order.number}, {order.get_state_display()}", reverse("work_order", args=[order.pk]),
        )  # fmt: skip


def _streets(text: str, user) -> Iterator[Found]:
    if text[0].isdigit() or not user.has_perm("services_inventory.view_serviceline"):
        return
    streets, _ = read_typed(text)
    for street in streets:
        yield Found(
            "Streets", street.title(), "all its lines",
            f"{reverse('line_list')}?{urlencode({'address': street})}",
        )  # fmt: skip


def _people(text: str, user) -> Iterator[Found]:
    """Who can be asked about a line; their names are for those who record access only."""
    if text[0].isdigit() or not user.has_perm("replacements.record_access"):
        return
    people = Person.objects.filter(name__icontains=text, left_on=None)
    for person in people.select_related("line__premise").order_by("id")[:MOST]:
        yield Found(
            PEOPLE_ASKED, person.name,
            f"{person.get_capacity_display()}, {person.line.premise.address}",
            reverse("line_access", args=[person.line_id]),
        )  # fmt: skip


def _accounts(text: str, user) -> Iterator[Found]:
    if not user.has_perm("program.view_people"):
        return
    named = Q(username__icontains=text) | Q(last_name__icontains=text)
    accounts = get_user_model().objects.filter(named | Q(first_name__icontains=text))
    for account in accounts.order_by("-is_active", "username").prefetch_related("groups"):
        yield Found(
            "People let in", account.get_full_name() or account.username,
            f"{account.username}, {role_of(account) or 'no role'}",
            reverse("account", args=[account.pk]),
        )  # fmt: skip


def _pages(text: str, user) -> Iterator[Found]:
    for room, place in pages_for(user):
        if place.address and text.casefold() in place.label.casefold():
            yield Found("Pages", place.label, room, place.address)
