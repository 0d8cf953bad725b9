"""Finding a line by its address, as people type addresses.

An exact key first; then the streets that begin like the one typed, then those that hold it, then
those most like it; on them the house of that number, or its nearest neighbors. The list of
streets is short and kept for minutes; houses are found by street and number, by index.
"""

import re
from functools import cache as once_ever

from django.db.models import F, Q, Subquery, Value
from django.db.models.functions import Abs, Coalesce

from program.models import Utility
from program.public.kept import PLACES, kept_while, record_mark
from program.public.records import public_lines, utility
from services_inventory import bulk
from services_inventory.domain.addresses import normalize
from services_inventory.domain.addresses.written import with_unit

MOST = 8
MOST_STREETS = 12
NEAR = 40  # house numbers up or down the street
LEAST_ALIKE, MUCH_ALIKE, MUCH_LESS_ALIKE = 65, 85, 15  # of 100
_NUMBER = re.compile(r"\s*(\d{1,9})\b(?!\s*(?:st|nd|rd|th)\b)", re.IGNORECASE)
_TYPED, _KEY = "the text that was typed", "its key"  # stand in the question for what is typed
_SHOWN = ("location_id", "premise__address", "premise__unit", "premise__city")


def exact(text: str) -> list[str]:
    """Return the location identifiers at exactly this address, or with this identifier."""
    text = text.strip()
    question, parameters = _exact()
    given = {_TYPED: text, _KEY: normalize(text).key or None}
    found = bulk.fetched_often(question, [given.get(p, p) for p in parameters])
    first = found[0][0] if found else 0
    return [location_id for rank, _, location_id in found if rank == first]


@once_ever
def _exact() -> tuple[str, tuple]:
    """Return what asks for both at once, put into words once; addresses only if published."""
    shown = ("rank", "id", "location_id")
    published = Coalesce(
        Subquery(Utility.objects.order_by("id").values("publish_addresses")[:1]), True
    )
    named = public_lines().filter(location_id=_TYPED).annotate(rank=Value(0))
    there = public_lines().filter(published, premise__address_key=_KEY).annotate(rank=Value(1))
    both = named.values_list(*shown).union(there.values_list(*shown), all=True)
    return both.order_by("rank", "id")[:MOST].query.sql_with_params()


def suggestions(text: str) -> list[dict]:
    """Return at most eight places {location_id, label} for what was typed so far."""
    text = text.strip()
    if len(text) < 2:
        return []
    if not utility().publish_addresses:
        return _places(Q(location_id=text), ("id",))
    streets, number = read_typed(text)
    return _on_streets(streets, number) if streets else _places(Q(location_id=text), ("id",))


def read_typed(text: str) -> tuple[list[str], int | None]:
    """Return the streets that an address as typed may mean, the likest first, and its number."""
    numbered = _NUMBER.match(text)
    read = normalize(text if numbered else f"1 {text}")
    streets = streets_like(read.street_key) if read.street_key else []
    return streets, int(numbered[1]) if numbered else None


def streets_like(typed: str) -> list[str]:
    """Return the streets that begin like the one typed, else hold it, else are most like it.

    What follows a street's name, such as a town without a comma, is left off word by word.
    """
    streets = kept_while(record_mark(PLACES), "public-streets", _all_streets)
    found = _named(typed, streets) or _alike(typed, streets, MUCH_ALIKE)
    words = typed.split()
    while not found and len(words) > 1:
        words.pop()
        found = _named(" ".join(words), streets)
    return found[:MOST_STREETS] or _alike(typed, streets, LEAST_ALIKE)


def _named(typed: str, streets: list[str]) -> list[str]:
    begin = [street for street in streets if street.startswith(typed)]
    return begin or [street for street in streets if f" {typed}" in street]


def _all_streets() -> list[str]:
    return [street for (street,) in bulk.distinct("services_inventory_premise", "street_key")
            if street]  # fmt: skip


def _alike(typed: str, streets: list[str], least: int) -> list[str]:
    from rapidfuzz import fuzz, process

    best = process.extract(
        typed, streets, scorer=fuzz.ratio, limit=MOST_STREETS, score_cutoff=least
    )  # (street, score, place in the list), best first
    return [street for street, score, _ in best if score > best[0][1] - MUCH_LESS_ALIKE]


def _on_streets(streets: list[str], number: int | None) -> list[dict]:
    """Return the houses of that number on these streets, else the nearest on the best of them."""
    tries = (_places(condition, order) for condition, order in houses_on(streets, number))
    return next(filter(None, tries), [])


def houses_on(streets: list[str], number: int | None) -> list[tuple[Q, tuple]]:
    """Return (condition on lines, order) to try in turn: that number, near it, then any."""
    on = Q(premise__street_key__in=streets)
    if number is None:
        return [(on, ("premise__street_key", "premise__house_number", "id"))]
    best = Q(premise__street_key=streets[0], premise__house_number__isnull=False)
    near = best & Q(premise__house_number__range=(number - NEAR, number + NEAR))
    nearest = (Abs(F("premise__house_number") - number), "id")
    same = on & Q(premise__house_number=number)
    return [(same, ("premise__street_key", "id")), (near, nearest), (best, nearest)]


def _places(condition: Q, order: tuple) -> list[dict]:
    rows = public_lines().filter(condition).order_by(*order).values_list(*_SHOWN)[:MOST]
    shown = utility().publish_addresses
    return [_place(*row) if shown else _place(row[0], "", "", "") for row in rows]


def _place(location_id: str, address: str, unit: str, city: str) -> dict:
    if not address:
        return {"location_id": location_id, "label": location_id}
    street = with_unit(address, unit)
    return {"location_id": location_id, "label": ", ".join(p for p in (street, city) if p)}
