"""Which polygon a point lies in, for a million points at once.

numpy and shapely are imported when they are used, so that start-up does not pay for them.
"""

from collections.abc import Sequence

NOWHERE = -1


def assign(latitudes: Sequence, longitudes: Sequence, polygons: Sequence):
    """Return for each point the index of the polygon it lies in, -1 where it lies in none.

    Parameters
    ----------
    latitudes, longitudes : degrees, EPSG:4326; None or NaN for a point without a position
    polygons : shapely polygons or multipolygons, in the order of their ids; None is skipped

    Returns
    -------
    numpy.ndarray of int32
        A border belongs to the polygons on both sides of it; of several, the first in the
        given order gets the point, so every point counts once.

    Notes
    -----
    Points are sorted by longitude once; each polygon then looks only at those in its box.
    """
    import numpy
    import shapely

    south_north = numpy.asarray(latitudes, dtype=float)
    west_east = numpy.asarray(longitudes, dtype=float)
    order = numpy.argsort(west_east)
    x, y = west_east[order], south_north[order]
    found = numpy.full(len(order), NOWHERE, dtype=numpy.int32)
    for index, polygon in enumerate(polygons):
        if polygon is None or polygon.is_empty:
            continue
        shapely.prepare(polygon)
        west, south, east, north = polygon.bounds
        first, last = numpy.searchsorted(x, west), numpy.searchsorted(x, east, side="right")
        box = y[first:last]
        near = numpy.flatnonzero((box >= south) & (box <= north)) + first
        inside = near[shapely.intersects_xy(polygon, x[near], y[near])]
        found[inside[found[inside] == NOWHERE]] = index
    result = numpy.empty_like(found)
    result[order] = found
    return result
