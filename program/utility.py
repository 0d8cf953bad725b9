"""The utility's own row, read once a request."""

from services_inventory.asked_once import once

from .models import Utility


@once
def the_utility() -> Utility | None:
    """Return the utility to read from, or None before it is set up; not to be changed or saved."""
    return Utility.objects.order_by("id").first()
