"""Finding a line by its address, as people type addresses.

An exact key first; then the streets that begin like the one typed, then those that hold it, then
those most like it; on them the house of that number, or its nearest neighbours. The list of
streets is short and kept for minutes; houses are found by street and number, by index.
"""

import re

from django.core.cache import cache
from django.db.models import F, Q
from django.db.models.functions import Abs

from program.public.records import FRESH_SECONDS, public_lines, utility
from services_inventory import bulk
from services_inventory.domain.addresses import normalise

MOST = 8
MOST_STREETS = 12
LEAST_ALIKE, MUCH_LESS_ALIKE = 65, 15  # of 100
NEAR = 40  # house numbers up or down the street
_NUMBER = re.compile(r"\s*(\d{1,9})\b(?!\s*(?:st|nd|rd|th)\b)", re.IGNORECASE)
_SHOWN = ("location_id", "premise__address", "premise__unit", "premise__city")


def exact(text: str) -> list[str]:
    """Return the location identifiers at exactly this address, or with this identifier."""
    text = text.strip()
    lines = public_lines()
    found = list(lines.filter(location_id=text).values_list("location_id", flat=True))
    if found or not utility().publish_addresses:
        return found
    key = normalise(text).key
    if not key:
        return []
    at_key = lines.filter(premise__address_key=key).order_by("id")
    return list(at_key.values_list("location_id", flat=True)[:MOST])


def suggestions(text: str) -> list[dict]:
    """Return at most eight places {location_id, label} for what was typed so far."""
    text = text.strip()
    if len(text) < 2:
        return []
    if not utility().publish_addresses:
        return _places(Q(location_id=text), ("id",))
    numbered = _NUMBER.match(text)
    read = normalise(text if numbered else f"1 {text}")
    streets = streets_like(read.street_key) if read.street_key else []
    if not streets:
        return _places(Q(location_id=text), ("id",))
    return _on_streets(streets, int(numbered[1]) if numbered else None)


def streets_like(typed: str) -> list[str]:
    """Return the streets that begin like the one typed, else hold it, else are most like it."""
    streets = cache.get_or_set("public-streets", _all_streets, FRESH_SECONDS)
    words = typed.split()
    for wanted in (typed, " ".join(words[:-1])):
        begin = [street for street in streets if wanted and street.startswith(wanted)]
        found = begin or [street for street in streets if wanted and f" {wanted}" in street]
        if found:
            return found[:MOST_STREETS]
    return _alike(typed, streets)


def _all_streets() -> list[str]:
    return [street for (street,) in bulk.distinct("services_inventory_premise", "street_key")
            if street]  # fmt: skip


def _alike(typed: str, streets: list[str]) -> list[str]:
    from rapidfuzz import fuzz, process

    best = process.extract(
        typed, streets, scorer=fuzz.ratio, limit=MOST_STREETS, score_cutoff=LEAST_ALIKE
    )  # (street, score, place in the list), best first
    return [street for street, score, _ in best if score > best[0][1] - MUCH_LESS_ALIKE]


def _on_streets(streets: list[str], number: int | None) -> list[dict]:
    """Return the houses of that number on these streets, or the nearest on the best of them."""
    on = Q(premise__street_key__in=streets)
    if number is None:
        return _places(on, ("premise__street_key", "premise__house_number", "id"))
    found = _places(on & Q(premise__house_number=number), ("premise__street_key", "id"))
    near = Q(
        premise__street_key=streets[0],
        premise__house_number__range=(number - NEAR, number + NEAR),
    )
    return found or _places(near, (Abs(F("premise__house_number") - number), "id"))


def _places(condition: Q, order: tuple) -> list[dict]:
    rows = public_lines().filter(condition).order_by(*order).values_list(*_SHOWN)[:MOST]
    shown = utility().publish_addresses
    return [_place(*row) if shown else _place(row[0], "", "", "") for row in rows]


def _place(location_id: str, address: str, unit: str, city: str) -> dict:
    if not address:
        return {"location_id": location_id, "label": location_id}
    street = address if not unit or unit in address else f"{address} {unit}"
    return {"location_id": location_id, "label": ", ".join(p for p in (street, city) if p)}
