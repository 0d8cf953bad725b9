"""Closed block faces: those in force, what they cover, and what they say of a line on a day."""

from __future__ import annotations

from datetime import date

from django.db.models import F, Q, QuerySet

from services_inventory.asked_once import once, settled
from services_inventory.domain.days import day_told
from services_inventory.models import Premise, ServiceLine

from ..domain.closures import Side
from ..domain.findings import Finding, Level
from ..domain.gate import UTILITY
from ..models import StreetClosure

_SOURCE = "closure that the utility entered; the street's authority decides on it"


def closures_from(day: date) -> list[StreetClosure]:
    """Return the closures that stand and are not over on a day, the earliest first."""
    return [row for row in _standing() if row.last_day >= day]


@settled
@once
def _standing() -> list[StreetClosure]:
    """Every closure that stands, asked once for all days and orders of a page."""
    rows = StreetClosure.objects.standing()
    return list(rows.order_by("first_day", "street_key", "id"))


def closures_at(line: ServiceLine, day: date) -> list[StreetClosure]:
    """Return the closures of a line's own house that are not over on a day, the earliest first."""
    place = line.premise
    on_street = (row for row in closures_from(day) if row.street_key == place.street_key)
    return [row for row in on_street if row.as_face.covers(place.house_number)]


def closure_findings(line: ServiceLine, day: date) -> tuple[Finding, ...]:
    """Return a stop for each closure that lets nobody dig at a line on a day."""
    return tuple(
        Finding(
            Level.STOP,
            "STREET_CLOSED",
            f"{row.as_face.sentence}.",
            _SOURCE,
            f"Choose a day after {day_told(row.last_day)}; if the street's authority permits the "
            "work, have the closure taken back.",
            who=UTILITY,
        )
        for row in closures_at(line, day)
        if row.as_face.closed_on(day)
    )


def premises_on(closure: StreetClosure) -> QuerySet[Premise]:
    """Return the premises that a closure covers, along the street."""
    rows = Premise.objects.filter(street_key=closure.street_key)
    if closure.first_number is not None:
        rows = rows.filter(house_number__range=(closure.first_number, closure.last_number))
    if closure.side != Side.BOTH:
        rows = rows.alias(odd=F("house_number") % 2).filter(odd=int(closure.side == Side.ODD))
    return rows.order_by("house_number", "id")


def lines_on(closure: StreetClosure) -> QuerySet[ServiceLine]:
    """Return the lines that count on a closed face."""
    return ServiceLine.objects.filter(
        Q(premise__in=premises_on(closure).order_by().values("id")), category__isnull=False
    )


def faces_geojson(day: date) -> dict:
    """Return the closures not over on a day as lines along their houses, for a map."""
    import json

    import shapely

    features = []
    for closure in closures_from(day):
        spots = premises_on(closure).filter(latitude__isnull=False)
        corners = list(spots.values_list("longitude", "latitude"))
        if corners:
            shape = shapely.LineString(corners if len(corners) > 1 else corners * 2)
            features.append(
                {
                    "type": "Feature",
                    "id": closure.pk,
                    "properties": {"told": closure.as_face.sentence},
                    "geometry": json.loads(shapely.to_geojson(shape)),
                }
            )
    return {"type": "FeatureCollection", "features": features}
