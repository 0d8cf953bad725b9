"""A drawing of where a line is: its neighbors within a stone's throw, in feet, north up."""

from math import cos, radians

from django.db.models import F

from ..models import ServiceLine

REACH_FT = 250
FEET_PER_DEGREE = 364_567  # of latitude at 45 degrees, good to half a percent anywhere
MOST = 400


def locator(line: ServiceLine) -> dict | None:
    """Return the dots of a square drawing (feet from the line, north up), or None.

    Each dot: {x, y (down), pk, category, address}; the line itself is not among them.
    """
    latitude, longitude = line.premise.latitude, line.premise.longitude
    if latitude is None or longitude is None:
        return None
    across = FEET_PER_DEGREE * max(cos(radians(latitude)), 0.01)
    high, wide = REACH_FT / FEET_PER_DEGREE, REACH_FT / across
    near = (
        ServiceLine.objects.filter(
            premise__latitude__range=(latitude - high, latitude + high),
            premise__longitude__range=(longitude - wide, longitude + wide),
            category__isnull=False,
        )
        .exclude(pk=line.pk)
        .values(
            "pk",
            "category",
            lat=F("premise__latitude"),
            lon=F("premise__longitude"),
            address=F("premise__address"),
        )
    )[:MOST]
    dots = [
        {
            **row,
            "x": round((row["lon"] - longitude) * across),
            "y": round((latitude - row["lat"]) * FEET_PER_DEGREE),
        }
        for row in near
    ]
    return {"dots": dots, "reach": REACH_FT, "size": 2 * REACH_FT, "corner": -REACH_FT}
