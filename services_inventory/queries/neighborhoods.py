"""Neighborhoods as a table and as shapes for a map."""

from ..models import Neighborhood

SIMPLIFY_DEGREES = 0.00005
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
