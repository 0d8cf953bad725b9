"""Finding lines by what a person types of an address."""

import re

from django.db.models import Q

from .. import bulk
from ..domain.addresses import normalise

MOST_STREETS = 200
_NUMBER = re.compile(r"\s*(\d{1,9})\b(?!\s*(?:st|nd|rd|th)\b)", re.IGNORECASE)


def address_matches(text: str) -> Q:
    """Return the condition on lines whose address is, or contains, what was typed.

    "12 mill street" finds number 12 on every street with MILL ST in its name; "mill" finds all
    of them; a post office box or rural route is found by its whole address.
    """
    exact = Q(premise__address_key=normalise(text).key)
    numbered = _NUMBER.match(text)
    read = normalise(text if numbered else f"1 {text}")
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
    found = (
        street
        for (street,) in bulk.distinct("services_inventory_premise", "street_key")
        if street and part in street
    )
    return [street for street, _ in zip(found, range(MOST_STREETS), strict=False)]
