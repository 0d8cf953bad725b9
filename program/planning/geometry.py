"""Distances and outlines over a town, on a plane that touches the ellipsoid at its middle.

Over the ten miles or so of one water system the plane is right to a few parts in ten thousand.
"""

from __future__ import annotations

from math import cos, radians, sin, sqrt

# WGS 84: equatorial radius in meters and first eccentricity squared.
_RADIUS_M, _E2 = 6378137.0, 0.0066943799901413165


def meters_per_degree(lat: float) -> tuple[float, float]:
    """Meters in one degree of latitude and of longitude at a latitude in degrees.

    Source: radii of curvature of the WGS 84 ellipsoid in the meridian and the prime vertical.
    """
    phi = radians(lat)
    w = 1 - _E2 * sin(phi) ** 2
    meridian = _RADIUS_M * (1 - _E2) / (w * sqrt(w))
    prime_vertical = _RADIUS_M / sqrt(w)
    return radians(1) * meridian, radians(1) * prime_vertical * cos(phi)


def on_plane(points, middle=None) -> list[tuple[float, float]]:
    """(lat, lon) pairs in degrees as (east, north) meters from their middle.

    Returns
    -------
    list of (float, float), in the order given; empty for no points.
    """
    points = list(points)
    if not points:
        return []
    lat0, lon0 = middle or middle_of(points)
    north, east = meters_per_degree(lat0)
    return [((lon - lon0) * east, (lat - lat0) * north) for lat, lon in points]


def middle_of(points) -> tuple[float, float]:
    """The mean latitude and longitude of (lat, lon) pairs."""
    points = list(points)
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


def distance_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Meters between two (lat, lon) points of one town."""
    north, east = meters_per_degree((a[0] + b[0]) / 2)
    return sqrt(((a[0] - b[0]) * north) ** 2 + ((a[1] - b[1]) * east) ** 2)


def outline(points, margin_m: float = 15.0) -> list[tuple[float, float]]:
    """A ring of (lat, lon) around the points with a margin, for drawing an area on a map."""
    import shapely

    points = list(points)
    lat0, lon0 = middle_of(points)
    north, east = meters_per_degree(lat0)
    cloud = shapely.MultiPoint(on_plane(points, (lat0, lon0)))
    hull = shapely.concave_hull(cloud, ratio=0.4).buffer(margin_m, quad_segs=3).simplify(2.0)
    return [(lat0 + y / north, lon0 + x / east) for x, y in hull.exterior.coords]
