"""Which places lie inside a shape drawn on a map, asked of the database itself.

A shape is written `lon,lat;lon,lat;…`, so that it fits into an address. It is cut into triangles,
each three inequalities that both engines answer: no list of ids, however many lines lie inside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db.models import F, Q, Value
from django.db.models.lookups import GreaterThanOrEqual

if TYPE_CHECKING:
    from shapely import Geometry

MOST_CORNERS = 60
_FAR = 1_000  # degrees: a map of the whole earth reaches over its edges
_NOTHING = 1e-12  # square degrees: what the rounding of a product may lose on an edge


class BadShape(ValueError):
    """A text is no shape on the earth; the message says what it lacks."""


def shape_of(text: str) -> Geometry:
    """Read a shape as it is written in an address; a loop that crosses itself counts all inside.

    Raises
    ------
    BadShape: it has fewer than three corners or more than can be asked for, or no such places.
    """
    import shapely

    try:
        corners = [tuple(map(float, corner.split(","))) for corner in text.split(";") if corner]
        inside = all(-180 <= lon <= 180 and -90 <= lat <= 90 for lon, lat in corners)
    except ValueError:
        inside = False
    if not inside:
        raise BadShape("A shape is written as lon,lat;lon,lat;lon,lat in degrees.")
    if not 3 <= len(corners) <= MOST_CORNERS:
        raise BadShape(f"A shape has 3 to {MOST_CORNERS} corners, not {len(corners)}.")
    shape = shapely.make_valid(shapely.Polygon(corners))
    if not shape.area:
        raise BadShape("The corners lie in one line, so that nothing is inside: draw around it.")
    return shape


def shape_given(query) -> Geometry | None:
    """Read the shape of an address: `within` for a drawn one, `box` for a part of the map.

    Raises
    ------
    BadShape: what is given is neither.
    """
    import shapely

    if query.get("within"):
        return shape_of(query["within"])
    if not query.get("box"):
        return None
    try:
        west, south, east, north = map(float, query["box"].split(","))
        near = max(map(abs, (west, south, east, north))) <= _FAR
    except ValueError:
        near = False
    if not near:
        raise BadShape("Give box=west,south,east,north in degrees.")
    return shapely.box(west, south, east, north)


def inside(shape: Geometry, premise: str = "premise__") -> Q:
    """Return the condition that a premise lies inside a shape or on its edge.

    Parameters
    ----------
    premise : the way from the rows asked to their premise
    """
    import shapely

    west, south, east, north = shape.bounds
    lat, lon = f"{premise}latitude", f"{premise}longitude"
    box = Q(**{f"{lat}__range": (south, north), f"{lon}__range": (west, east)})
    if shapely.box(*shape.bounds).equals(shape):
        return box
    some = Q()
    cut = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    for triangle in shapely.orient_polygons(cut):
        some |= _left_of_all(shapely.get_coordinates(triangle), lat, lon)
    return box & some


def _left_of_all(ring, lat: str, lon: str) -> Q:
    """Say that a point is left of each edge of a ring that runs against the clock."""
    kept = Q()
    for (x, y), (to_x, to_y) in zip(ring.tolist(), ring.tolist()[1:], strict=False):
        across, along = to_x - x, to_y - y
        least = across * y - along * x - _NOTHING
        kept &= Q(GreaterThanOrEqual(F(lat) * across - F(lon) * along, Value(least)))
    return kept
