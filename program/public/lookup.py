"""Finding a line by its address, as people type addresses.

An exact key first; then what begins like it; then, among the houses of the same number, the
streets most like the one typed. Never a scan of the whole table.
"""

from django.db.models import Q

from program.public.records import public_lines, utility
from services_inventory.bulk import on_postgresql
from services_inventory.domain.addresses import normalise

MOST = 8
MOST_COMPARED = 4_000
LEAST_ALIKE, MUCH_LESS_ALIKE = 65, 15  # of 100
_LAST = "\U0010ffff"


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
        return _places(Q(location_id__startswith=text))
    key = normalise(text).key
    if not key:
        return []
    found = _places(_begins(key))
    if not found and " " in key:
        found = _places(_begins(key.rsplit(" ", 1)[0]))[:MOST] if key.count(" ") > 1 else []
    return found or _alike(key) or _places(Q(location_id=text))


def _begins(key: str) -> Q:
    """Say "the key begins so" in the way this engine has an index for."""
    if on_postgresql():
        return Q(premise__address_key__startswith=key)
    return Q(premise__address_key__gte=key, premise__address_key__lt=key + _LAST)


def _places(condition: Q) -> list[dict]:
    rows = public_lines().filter(condition).order_by("premise__address_key", "id")
    return [_place(*row) for row in rows.values_list(*_SHOWN)[:MOST]]


_SHOWN = ("location_id", "premise__address", "premise__unit", "premise__city")


def _place(location_id: str, address: str, unit: str, city: str) -> dict:
    if not utility().publish_addresses or not address:
        return {"location_id": location_id, "label": location_id}
    street = address if not unit or unit in address else f"{address} {unit}"
    return {"location_id": location_id, "label": ", ".join(p for p in (street, city) if p)}


def _alike(key: str) -> list[dict]:
    """Compare with the houses of the same number only."""
    from rapidfuzz import fuzz, process

    number, _, street = key.partition(" ")
    if not number[:1].isdigit() or not street:
        return []
    rows = public_lines().filter(_begins(f"{number} "))
    streets = {
        pk: found.partition(" ")[2]
        for pk, found in rows.values_list("id", "premise__address_key")[:MOST_COMPARED]
    }
    best = process.extract(
        street, streets, scorer=fuzz.ratio, limit=MOST, score_cutoff=LEAST_ALIKE
    )  # (street, score, id), best first
    best = [one for one in best if one[1] > best[0][1] - MUCH_LESS_ALIKE]
    shown = {
        row[0]: _place(*row[1:])
        for row in public_lines()
        .filter(id__in=[pk for _, _, pk in best])
        .values_list("id", *_SHOWN)
    }
    return [shown[pk] for _, _, pk in best if pk in shown]
