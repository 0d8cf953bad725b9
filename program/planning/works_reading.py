"""Paving and main works from a file: lines or areas of any reference system, each with its years.

Read like boundaries: GeoPackage, GeoJSON or zipped Shapefile; or CSV with WKT in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from services_inventory.apart import apart
from services_inventory.intake.reading.content import FileKind, kind_of
from services_inventory.intake.reading.layers import KIND_NAMES, layer_of, readable
from services_inventory.intake.reading.opening import open_here
from services_inventory.intake.reading.table import UnreadableFile

MOST_WORKS = 5_000
NAME_FIELDS = ("name", "project", "street", "title", "id", "label")
YEAR_FIELDS = ("year", "paving_year", "work_year", "calendar_year", "const_year", "start_year")
START_FIELDS = ("start", "starts", "first_day", "start_date", "begin", "from")
END_FIELDS = ("end", "ends", "last_day", "end_date", "finish", "to")
WKT_FIELDS = ("wkt", "geometry", "geom", "the_geom", "shape")


@dataclass(frozen=True)
class Work:
    """One stretch of planned work, as WKT in longitude and latitude, with its days."""

    name: str
    first: date
    last: date
    wkt: str


def read_works(path: Path) -> list[Work]:
    """Read the works of a file, in a process of its own.

    Raises
    ------
    UnreadableFile: the file is none of the kinds, has no year for a work, or a work without a
        line or an area; the message says which, and what to do.
    """
    return apart(UnreadableFile, _works, Path(path).resolve())


def _works(path: Path) -> list[Work]:
    kind = kind_of(path)
    if kind is FileKind.CSV:
        rows = _from_table(path)
    elif kind in KIND_NAMES:
        rows = _from_layer(path, kind)
    else:
        raise UnreadableFile(
            f"The file is a table ({kind.lower()}). Use a GeoPackage, a GeoJSON file, a zipped "
            "Shapefile, or a CSV file with a column WKT."
        )
    if len(rows) > MOST_WORKS:
        raise UnreadableFile(f"The file has {len(rows):,} works; at most {MOST_WORKS:,} are read.")
    if not rows:
        raise UnreadableFile("The file holds no work.")
    return [_work(number, *row) for number, row in enumerate(rows, start=1)]


def _from_table(path: Path) -> list[tuple[dict, Any]]:
    import shapely

    table = open_here(path, None, None)
    header = [str(cell) for cell in table.header]
    names = {name.strip().lower(): name for name in header}
    wkt = next((names[name] for name in WKT_FIELDS if name in names), None)
    if wkt is None:
        raise UnreadableFile(
            f"The CSV file has no column WKT with each work's line. It has: {', '.join(header)}."
        )
    found = []
    for number, (_, row) in enumerate(table.rows(), start=1):
        cells = dict(zip(header, row, strict=False))
        try:
            shape = shapely.from_wkt(str(cells.get(wkt) or ""))
        except shapely.errors.GEOSException:
            said = str(cells[wkt])[:40]
            raise UnreadableFile(
                f"Work {number}: {said!r} is no WKT, such as LINESTRING (-100.3 41.5, -100.2 41.5)."
            ) from None
        found.append((cells, shape))
    return found


def _from_layer(path: Path, kind: FileKind) -> list[tuple[dict, Any]]:
    import pyogrio

    layer = layer_of(path, kind, None)
    if not layer.about["geometry_type"]:
        raise UnreadableFile("The layer has no geometry. Export the layer with the works' lines.")
    with readable(kind):
        frame = pyogrio.read_dataframe(layer.source, layer=layer.name)
    frame = frame.to_crs("EPSG:4326")
    rows = frame.drop(columns=frame.geometry.name).to_dict("records")
    return list(zip(rows, frame.geometry, strict=True))


def _work(number: int, cells: dict, shape) -> Work:
    import shapely

    named = {str(key).strip().lower(): value for key, value in cells.items()}
    name = " ".join(str(_first(named, NAME_FIELDS) or f"Work {number}").split())[:120]
    said = f"Work {number} ({name})"
    if shape is None or shape.is_empty or shape.geom_type == "GeometryCollection":
        raise UnreadableFile(f"{said} has no line or area. Draw it, or remove the row.")
    west, south, east, north = shape.bounds
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        raise UnreadableFile(
            f"{said} lies outside the earth ({west:.0f}, {south:.0f}): give longitude and latitude "
            "in degrees, or a file with its reference system."
        )
    first, last = _days(said, named)
    return Work(name, first, last, shapely.to_wkt(shapely.force_2d(shape), rounding_precision=6))


def _days(said: str, named: dict) -> tuple[date, date]:
    """The first and last day: from two dates, or a calendar year."""
    first, last = _day(_first(named, START_FIELDS)), _day(_first(named, END_FIELDS))
    if first is None:
        year = _year(_first(named, YEAR_FIELDS))
        if year is None:
            raise UnreadableFile(
                f"{said} has no year. Give a column year (such as 2032), or start and end "
                "(such as 2032-05-01)."
            )
        return date(year, 1, 1), date(year, 12, 31)
    last = last or first
    if last < first:
        raise UnreadableFile(f"{said} ends ({last}) before it starts ({first}).")
    return first, last


def _first(named: dict, wanted: tuple[str, ...]):
    given = (named[name] for name in wanted if name in named)
    return next((value for value in given if value == value and value not in (None, "")), None)


def _day(value) -> date | None:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date) or value is None:
        return value
    try:
        return date.fromisoformat(str(value).strip()[:10])
    except ValueError:
        return None


def _year(value) -> int | None:
    try:
        year = int(float(value))
    except (TypeError, ValueError):
        return None
    return year if 1990 <= year <= 2199 else None
