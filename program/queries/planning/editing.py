"""What the page for changing areas by hand shows: one neighborhood's areas, streets and lines."""

from __future__ import annotations

from itertools import groupby

from django.db.models import Count, QuerySet

from program.models import Plan, PlanArea, PlanAreaLine
from services_inventory.domain.classification import Category
from services_inventory.queries.within import inside

MOST_POINTS = 5_000


def hoods_of(plan: Plan) -> list[dict]:
    """Return the neighborhoods that hold areas of a plan, with how many, by name."""
    rows = plan.areas.values_list("neighborhood_id", "neighborhood__name")
    return [
        {"id": pk, "name": name, "areas": count}
        for pk, name, count in rows.annotate(n=Count("id")).order_by("neighborhood__name")
    ]


def areas_in(plan: Plan, hood: int | None) -> list[PlanArea]:
    """Return the areas of one neighborhood, by key."""
    rows = plan.areas.filter(neighborhood_id=hood).select_related("neighborhood")
    return list(rows.annotate(held=Count("lines")).order_by("key"))


def streets_in(plan: Plan, hood: int | None) -> list[dict]:
    """Return the streets on which one neighborhood's areas have lines, with how many."""
    rows = plan.area_lines.filter(area__neighborhood_id=hood)
    counted = rows.values_list("line__premise__street_key").annotate(n=Count("id"))
    return [
        {"name": name, "lines": count}
        for name, count in counted.order_by("line__premise__street_key")
        if name
    ]


def lines_by_street(area: PlanArea) -> list[dict]:
    """Return an area's lines street by street, by house number, as they are today."""
    rows = area.lines.order_by(
        "line__premise__street_key", "line__premise__house_number", "line__location_id"
    ).values_list(
        "line__premise__street_key", "line__location_id", "line__premise__address", "line__category"
    )
    return [
        {
            "street": street or "No street",
            "lines": [
                {
                    "location_id": location_id,
                    "address": address or "no address",
                    "category": category,
                    "word": Category(category).label,
                }
                for _, location_id, address, category in members
            ],
        }
        for street, members in groupby(rows, key=lambda row: row[0])
    ]


def street_lines(plan: Plan, hood: int | None, street: str) -> list[str]:
    """Return the location ids of one neighborhood's lines of a plan on one street."""
    rows = plan.area_lines.filter(area__neighborhood_id=hood, line__premise__street_key=street)
    return list(rows.order_by("line__location_id").values_list("line__location_id", flat=True))


def lines_inside(plan: Plan, hood: int | None, shape) -> list[str]:
    """Return the location ids of one neighborhood's lines of a plan inside a shape."""
    rows = plan.area_lines.filter(inside(shape, "line__premise__"), area__neighborhood_id=hood)
    return list(rows.order_by("line__location_id").values_list("line__location_id", flat=True))


def points_of(plan: Plan, hood: int | None, shape, street: str) -> dict:
    """Return the lines of a plan's areas as GeoJSON, inside a shape or on a street.

    Parameters
    ----------
    hood : the neighborhood whose lines are wanted; None for all
    """
    rows: QuerySet[PlanAreaLine] = plan.area_lines.filter(line__premise__latitude__isnull=False)
    if hood is not None:
        rows = rows.filter(area__neighborhood_id=hood)
    if shape is not None:
        rows = rows.filter(inside(shape, "line__premise__"))
    if street:
        rows = rows.filter(line__premise__street_key=street)
    found = list(
        rows.order_by("line__location_id").values_list(
            "line__location_id", "line__premise__address", "line__category", "area__key",
            "line__premise__longitude", "line__premise__latitude",
        )[: MOST_POINTS + 1]
    )  # fmt: skip
    return {
        "type": "FeatureCollection",
        "cut": len(found) > MOST_POINTS,
        "features": [
            {
                "type": "Feature",
                "id": row[0],
                "properties": {
                    "address": row[1],
                    "category": row[2],
                    "word": Category(row[2]).label,
                    "area": row[3],
                },
                "geometry": {"type": "Point", "coordinates": [row[4], row[5]]},
            }
            for row in found[:MOST_POINTS]
        ],
    }
