"""Finding lines by what a person types of an address."""

import re
from itertools import islice

from django.core.cache import cache
from django.db.models import Q

from .. import bulk
from ..domain.addresses import normalize
from .marks import premise_mark

MOST_STREETS = 200
_KEY, KEPT_S = "streets", 3600
_NUMBER = re.compile(r"\s*(\d{1,9})\b(?!\s*(?:st|nd|rd|th)\b)", re.IGNORECASE)


def address_matches(text: str) -> Q:
    """Return the condition on lines whose address is, or contains, what was typed.

    "12 mill street" finds number 12 on every street with MILL ST in its name; "mill" finds all
    of them; a post office box or rural route is found by its whole address.
    """
    exact = Q(premise__address_key=normalize(text).key)
    numbered = _NUMBER.match(text)
    read = normalize(text if numbered else f"1 {text}")
    wanted = read.street_key or re.sub(r"^\S+\s*", "", read.key)
    streets = streets_with(wanted) if wanted else []
    if not streets:
        return exact
    found = Q(premise__street_key__in=streets)
    if numbered:
        found &= Q(premise__house_number=int(numbered[1]))
    return exact | found


def streets_with(part: str) -> list[str]:
    """Return the streets whose name has this part, at most `MOST_STREETS`."""
    found = (street for street in _streets().split("\n") if part in street)
    return list(islice(found, MOST_STREETS))


def _streets() -> str:
    """Return every street, one a line, kept for as long as no premise changed."""
    mark = premise_mark()
    kept = cache.get(_KEY)
    if kept is None or kept[0] != mark:
        rows = bulk.distinct("services_inventory_premise", "street_key")
        kept = mark, "\n".join(street for (street,) in rows if street)
        cache.set(_KEY, kept, KEPT_S)
    return kept[1]
