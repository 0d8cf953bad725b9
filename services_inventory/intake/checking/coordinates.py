"""Latitude and longitude of a batch of rows: parsed, converted, and judged as pairs."""

import re
from collections.abc import Sequence
from math import isfinite

from services_inventory.intake.checking.problems import Bad, shown
from services_inventory.intake.checking.values import degrees, text_of

# South, north, west, east of the United States and its territories, rounded outwards.
MAINLAND = (13.0, 72.0, -180.0, -64.0)
BOXES = (
    MAINLAND,
    (13.0, 21.0, 144.0, 147.0),
    (-15.0, -10.0, -172.0, -168.0),
    (51.0, 54.0, 172.0, 180.0),
)
POINT = re.compile(r"(?:SRID=4326;)?\s*POINT\s*Z?\s*\(\s*(\S+)\s+(\S+)[^)]*\)", re.IGNORECASE)
# Latitude first, as maps and open data write it: "41.9, -87.6", "(41.9, -87.6)".
PAIR = re.compile(r"\(?\s*(-?\d{1,2}\.\d+)\s*[,;\s]\s*(-?\d{2,3}\.\d+)\s*\)?")
OTHER_SHAPE = re.compile(r"(?:SRID=4326;)?\s*((?:LINESTRING|POLYGON|MULTI)[^;]*)", re.IGNORECASE)

# Latitudes, longitudes, and by place in the batch which field is wrong and why.
Coordinates = tuple[list[float | None], list[float | None], dict[int, tuple[str, Bad]]]


def read_pairs(latitudes: Sequence, longitudes: Sequence, crs: str = "") -> Coordinates:
    """Read latitudes and longitudes; a pair that is wrong as such is wrong by its latitude."""
    try:
        south_north, west_east = list(map(float, latitudes)), list(map(float, longitudes))
    except (TypeError, ValueError):
        return _read_slowly(latitudes, longitudes, crs)
    if crs:
        return _judged(*_converted(south_north, west_east, crs), {})
    if south_north and _all_within(south_north, west_east):
        return south_north, west_east, {}
    return _read_slowly(latitudes, longitudes, crs)


def read_points(points: Sequence) -> Coordinates:
    """Read points written as text: WKT, longitude first, or a pair of degrees, latitude first."""
    latitudes: list = []
    longitudes: list = []
    wrong: dict[int, tuple[str, Bad]] = {}
    for at, cell in enumerate(points):
        text = text_of(cell)
        found = _degrees_in(text) if isinstance(text, str) else None
        latitudes.append(found[0] if found else None)
        longitudes.append(found[1] if found else None)
        if isinstance(text, Bad):
            wrong[at] = "geometry", text
        elif text and not found:
            why = (
                f"{shown(text)} is not a point. Write POINT (longitude latitude), or the latitude "
                "and the longitude with a comma between."
            )
            wrong[at] = "geometry", Bad(why)
    south_north, west_east, others = read_pairs(latitudes, longitudes)
    others = {at: ("geometry", bad) for at, (_, bad) in others.items()}
    return south_north, west_east, others | wrong


def _degrees_in(text: str) -> tuple | None:
    """Latitude and longitude in a text; of a line or an area, of its middle."""
    if found := POINT.fullmatch(text):
        return found[2], found[1]
    if found := PAIR.fullmatch(text):
        return found[1], found[2]
    if found := OTHER_SHAPE.fullmatch(text):
        import shapely

        shape = shapely.from_wkt(found[1], on_invalid="ignore")
        middle = shape.centroid if shape is not None and not shape.is_empty else None
        return (middle.y, middle.x) if middle is not None else None
    return None


def _all_within(latitudes: list[float], longitudes: list[float]) -> bool:
    """Whether every pair is in the mainland's box; a sum tells of a nan, which min and max miss."""
    south, north, west, east = MAINLAND
    return (
        isfinite(sum(latitudes) + sum(longitudes))
        and min(latitudes) >= south
        and max(latitudes) <= north
        and min(longitudes) >= west
        and max(longitudes) <= east
    )


def _converted(latitudes: list, longitudes: list, crs: str) -> tuple[list, list]:
    import pyproj

    change = pyproj.Transformer.from_crs(crs, 4326, always_xy=True)
    west_east, south_north = change.transform(longitudes, latitudes)
    return list(south_north), list(west_east)


def _read_slowly(latitudes: Sequence, longitudes: Sequence, crs: str) -> Coordinates:
    south_north, west_east = list(map(degrees, latitudes)), list(map(degrees, longitudes))
    wrong: dict[int, tuple[str, Bad]] = {}
    for at, pair in enumerate(zip(south_north, west_east, strict=True)):
        found = zip(("latitude", "longitude"), pair, strict=True)
        bad = next(((name, value) for name, value in found if isinstance(value, Bad)), None)
        if bad is None and (pair[0] is None) != (pair[1] is None):
            has, lacks = ("latitude", "longitude") if pair[1] is None else ("longitude", "latitude")
            bad = has, Bad(f"There is a {has} but no {lacks}. Give both or neither.")
        if bad is not None:
            wrong[at] = bad
            south_north[at] = west_east[at] = None
    if crs:
        given = [at for at, value in enumerate(south_north) if value is not None]
        moved = _converted([south_north[at] for at in given], [west_east[at] for at in given], crs)
        for at, latitude, longitude in zip(given, *moved, strict=True):
            south_north[at], west_east[at] = latitude, longitude
    return _judged(south_north, west_east, wrong)


def _judged(latitudes: list, longitudes: list, wrong: dict) -> Coordinates:
    for at, (latitude, longitude) in enumerate(zip(latitudes, longitudes, strict=True)):
        if latitude is not None:
            why = _why_nowhere(latitude, longitude)
            if why:
                wrong[at] = "latitude", Bad(why)
                latitudes[at] = longitudes[at] = None
    return latitudes, longitudes, wrong


def _why_nowhere(latitude: float, longitude: float) -> str:
    """Why a pair can't be a place in the United States; empty where it can."""
    if _is_inside(latitude, longitude):
        return ""
    pair = f"Latitude {latitude:.10g} and longitude {longitude:.10g}"
    if latitude == 0 and longitude == 0:
        return "Latitude and longitude are both 0, which is no place. Leave both empty."
    if _is_inside(longitude, latitude):
        return f"{pair} look exchanged. Exchange the two columns."
    if _is_inside(latitude, -longitude):
        return f"{pair}: the longitude lacks its minus sign (west of Greenwich)."
    if abs(latitude) > 90 or abs(longitude) > 180:
        return (
            f"{pair} are no degrees: they look like another coordinate reference system. "
            "Name it in the column map, or convert them to EPSG:4326."
        )
    return f"{pair} lie outside the United States."


def _is_inside(latitude: float, longitude: float) -> bool:
    return any(
        south <= latitude <= north and west <= longitude <= east
        for south, north, west, east in BOXES
    )
