"""Where the program is stuck: lines that wait for a fact, an answer or a review, by neighborhood.

The kinds may overlap: a line is unknown and its finished work waits for review at once.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, OuterRef, QuerySet, Subquery, Value

from program.planning.area_maps import Area, shaded_map_svg
from program.queries.planning.pace import REFUSALS, answers_standing
from replacements.models import WorkOrder
from services_inventory.models import Neighborhood, ServiceLine
from services_inventory.queries.counts_now import cells_now
from services_inventory.queries.neighborhoods import boundaries_geojson

STUCK = {
    "UNKNOWN": "unknown material",
    "REFUSED": "owner refused",
    "NO_CONSENT": "no consent yet",
    "REVIEW": "waiting for review",
}
NOWHERE = "none"
_KNOWN = ("LEAD", "GRR")


@dataclass(frozen=True)
class Place:
    """One neighborhood: how many lines of it are stuck, by kind; `key` is that of its lists."""

    key: str
    name: str
    numbers: dict[str, int]


def stuck_lines(kind: str, as_of: date, neighborhood: str = "") -> QuerySet:
    """Return the lines that one kind of `STUCK` holds, in one neighborhood or in `NOWHERE`."""
    ordered = WorkOrder.objects.filter(state__in=WorkOrder.OPEN_STATES).values("line_id")
    lines = ServiceLine.objects.all()
    if kind == "UNKNOWN":
        lines = lines.filter(category="UNKNOWN")
    elif kind == "REVIEW":
        lines = lines.filter(pk__in=WorkOrder.objects.filter(state="HANDED_IN").values("line_id"))
    else:
        lines = lines.filter(category__in=_KNOWN).exclude(pk__in=ordered)
        answers = answers_standing(as_of)
        if kind == "NO_CONSENT":
            lines = lines.exclude(pk__in=answers.values("line_id"))
        else:
            last = answers.filter(line=OuterRef("pk")).order_by("-answered_on", "-id")
            refused = answers.filter(answer__in=REFUSALS).values("line_id")
            lines = lines.filter(pk__in=refused).annotate(
                answer=Subquery(last.values("answer")[:1])
            )
            lines = lines.filter(answer__in=REFUSALS)
    if neighborhood:
        where = None if neighborhood == NOWHERE else neighborhood
        lines = (
            lines.filter(neighborhood__isnull=True)
            if where is None
            else lines.filter(neighborhood_id=where)
        )
    return lines


def stuck_places(as_of: date) -> list[Place]:
    """Return every neighborhood by name, and behind them what lies in none."""
    found: dict[int | None, dict[str, int]] = {}
    for place, counts in cells_now().items():
        _add(found, place or None, "UNKNOWN", counts.get("UNKNOWN", 0))
    asked = [
        stuck_lines(kind, as_of).order_by().annotate(of=Value(kind))
        .values_list("of", "neighborhood_id").annotate(n=Count("id"))
        for kind in STUCK if kind != "UNKNOWN"
    ]  # fmt: skip
    for kind, place, number in asked[0].union(*asked[1:], all=True):
        _add(found, place, kind, number)
    named = [(pk, str(pk), name) for pk, name in _names()]
    return [
        Place(key, name, {kind: found.get(pk, {}).get(kind, 0) for kind in STUCK})
        for pk, key, name in [*named, (None, NOWHERE, "In no neighborhood")]
        if pk or any(found.get(pk, {}).values())
    ]


def stuck_maps(places: list[Place], day: str, address: Callable[[str, str], str]) -> dict[str, str]:
    """Return {kind: map as SVG}, empty where no neighborhood has a boundary.

    address : the list of a kind and a place's key
    """
    import shapely

    rows = boundaries_geojson({})["features"]
    if not rows:
        return {}
    drawn = []
    for row in rows:
        ground = shapely.from_geojson(json.dumps(row["geometry"]))
        parts = getattr(ground, "geoms", [ground])
        rings = [list(ring.coords) for part in parts for ring in (part.exterior, *part.interiors)]
        point = ground.representative_point()
        drawn.append((str(row["id"]), rings, (point.x, point.y)))
    by_key = {place.key: place for place in places}
    return {
        kind: shaded_map_svg(
            [
                Area(by_key[key].name, by_key[key].numbers[kind], address(kind, key), rings, point)
                for key, rings, point in drawn if key in by_key
            ],
            f"Lines by neighborhood: {label}", day,
        )
        for kind, label in STUCK.items()
    }  # fmt: skip


def _names() -> QuerySet:
    return Neighborhood.objects.order_by("name").values_list("id", "name")


def _add(found: dict, place: int | None, kind: str, number: int) -> None:
    numbers = found.setdefault(place, {})
    numbers[kind] = numbers.get(kind, 0) + number
