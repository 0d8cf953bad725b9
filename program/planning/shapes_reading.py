"""Shapes from a file of others, each with its cells: lines or areas of any reference system.

Read like boundaries: GeoPackage, GeoJSON or zipped Shapefile; or CSV with WKT in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from services_inventory.intake.reading.content import FileKind, kind_of
from services_inventory.intake.reading.layers import KIND_NAMES, layer_of, readable
from services_inventory.intake.reading.opening import open_here
from services_inventory.intake.reading.table import UnreadableFile

WKT_FIELDS = ("wkt", "geometry", "geom", "the_geom", "shape")


@dataclass(frozen=True)
class Shape:
    """One row: what it is called in sentences, its cells by lower-case heading, its shape."""

    said: str
    name: str
    cells: dict[str, Any]
    shape: Any

    def first(self, wanted: tuple[str, ...]):
        """Return the first of these cells that says something."""
        given = (self.cells[name] for name in wanted if name in self.cells)
        return next((value for value in given if value == value and value not in (None, "")), None)

    @property
    def wkt(self) -> str:
        """The shape as WKT in longitude and latitude."""
        import shapely

        return shapely.to_wkt(shapely.force_2d(self.shape), rounding_precision=6)


def shapes_of(
    path: Path, *, word: str, names: tuple[str, ...], most: int, shape_needed: bool = True
) -> list[Shape]:
    """Read every shape of a file; call it within `apart`.

    Parameters
    ----------
    word : what a row is, such as "work"
    names : headings under which a row's name is looked for
    most : rows that are read at most
    shape_needed : whether a CSV file must have a column WKT

    Raises
    ------
    UnreadableFile: the file is none of the kinds, is empty or too long, or a row has no shape; the
        message says which, and what to do.
    """
    kind = kind_of(path)
    if kind is FileKind.CSV:
        rows = _from_table(path, word, shape_needed)
    elif kind in KIND_NAMES:
        rows = _from_layer(path, kind, word)
    else:
        raise UnreadableFile(
            f"The file is a table ({kind.lower()}). Use a GeoPackage, a GeoJSON file, a zipped "
            "Shapefile, or a CSV file with a column WKT."
        )
    if len(rows) > most:
        raise UnreadableFile(f"The file has {len(rows):,} {word}s; at most {most:,} are read.")
    if not rows:
        raise UnreadableFile(f"The file holds no {word}.")
    shapeless = kind is FileKind.CSV and not shape_needed
    return [
        _shape(number, word, names, *row, shapeless) for number, row in enumerate(rows, start=1)
    ]


def _from_table(path: Path, word: str, shape_needed: bool) -> list[tuple[dict, Any]]:
    import shapely

    table = open_here(path, None, None)
    header = [str(cell) for cell in table.header]
    names = {name.strip().lower(): name for name in header}
    wkt = next((names[name] for name in WKT_FIELDS if name in names), None)
    if wkt is None and shape_needed:
        raise UnreadableFile(
            f"The CSV file has no column WKT with each {word}'s shape. It has: {', '.join(header)}."
        )
    found = []
    for number, (_, row) in enumerate(table.rows(), start=1):
        cells = dict(zip(header, row, strict=False))
        if wkt is None:
            found.append((cells, None))
            continue
        try:
            shape = shapely.from_wkt(str(cells.get(wkt) or ""))
        except shapely.errors.GEOSException:
            said = str(cells[wkt])[:40]
            raise UnreadableFile(
                f"{word.capitalize()} {number}: {said!r} is no WKT, such as "
                "LINESTRING (-100.3 41.5, -100.2 41.5)."
            ) from None
        found.append((cells, shape))
    return found


def _from_layer(path: Path, kind: FileKind, word: str) -> list[tuple[dict, Any]]:
    import pyogrio

    layer = layer_of(path, kind, None)
    if not layer.about["geometry_type"]:
        raise UnreadableFile(f"The layer has no geometry. Export the layer with the {word}s.")
    with readable(kind):
        frame = pyogrio.read_dataframe(layer.source, layer=layer.name)
    frame = frame.to_crs("EPSG:4326")
    rows = frame.drop(columns=frame.geometry.name).to_dict("records")
    return list(zip(rows, frame.geometry, strict=True))


def _shape(
    number: int, word: str, names: tuple[str, ...], cells: dict, shape, shapeless: bool
) -> Shape:
    named = {str(key).strip().lower(): value for key, value in cells.items()}
    row = Shape("", "", named, shape)
    told = str(row.first(names) or f"{word.capitalize()} {number}").replace("\0", "")
    name = " ".join(told.split())[:120]
    said = f"{word.capitalize()} {number} ({name})"
    if shape is None and shapeless:
        return Shape(said, name, named, None)
    if shape is None or shape.is_empty or shape.geom_type == "GeometryCollection":
        raise UnreadableFile(f"{said} has no line or area. Draw it, or remove the row.")
    west, south, east, north = shape.bounds
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        raise UnreadableFile(
            f"{said} lies outside the earth ({west:.0f}, {south:.0f}): give longitude and latitude "
            "in degrees, or a file with its reference system."
        )
    return Shape(said, name, named, shape)
