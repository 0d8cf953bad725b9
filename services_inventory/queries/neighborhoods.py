"""Neighborhoods as a table, as shapes for a map, and the lines in view at street level."""

from ..models import Neighborhood, ServiceLine

SIMPLIFY_DEGREES = 0.00005
MOST_POINTS = 4000
MEASURES = (
    ("unknown_share", "Unknown, share of lines"),
    ("lead_share", "Lead and GRR, share of lines"),
    ("to_replace", "Lead, GRR and unknown lines"),
    ("total", "Lines"),
)


def with_shares(row: dict) -> dict:
    """Return a row of counts with the figures that a map is shaded by."""
    total = row["total"]
    known = row["LEAD"] + row["GRR"]
    return {
        **row,
        "to_replace": known + row["UNKNOWN"],
        "lead_share": known / total if total else 0,
        "unknown_share": row["UNKNOWN"] / total if total else 0,
    }


def boundaries_geojson(figures: dict[int, dict]) -> dict:
    """Return the boundaries as GeoJSON, thinned without gaps between neighbors.

    Parameters
    ----------
    figures : neighborhood id -> what each feature's properties carry
    """
    import json

    import shapely

    rows = list(
        Neighborhood.objects.filter(boundary_wkb__isnull=False)
        .order_by("id")
        .values_list("id", "name", "boundary_wkb")
    )
    shapes = [shapely.from_wkb(bytes(wkb)) for _, _, wkb in rows]
    try:
        thinned = shapely.coverage_simplify(shapes, SIMPLIFY_DEGREES)
    except shapely.errors.GEOSException:  # overlapping boundaries are no coverage
        thinned = [shape.simplify(SIMPLIFY_DEGREES) for shape in shapes]
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "id": pk,
                "properties": {"name": name, **figures.get(pk, {})},
                "geometry": json.loads(shapely.to_geojson(shapely.set_precision(shape, 1e-6))),
            }
            for (pk, name, _), shape in zip(rows, thinned, strict=True)
        ],
    }


def points_in(west: float, south: float, east: float, north: float) -> dict:
    """Return the lines in a box as GeoJSON points, at most `MOST_POINTS`; says when cut."""
    rows = list(
        ServiceLine.objects.filter(
            category__isnull=False,
            premise__latitude__range=(south, north),
            premise__longitude__range=(west, east),
        ).values_list(
            "id", "location_id", "category", "premise__address",
            "premise__longitude", "premise__latitude",
        )[: MOST_POINTS + 1]
    )  # fmt: skip
    return {
        "type": "FeatureCollection",
        "cut": len(rows) > MOST_POINTS,
        "features": [
            {
                "type": "Feature",
                "id": row[0],
                "properties": {"location_id": row[1], "category": row[2], "address": row[3]},
                "geometry": {"type": "Point", "coordinates": [row[4], row[5]]},
            }
            for row in rows[:MOST_POINTS]
        ],
    }
