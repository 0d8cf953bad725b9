"""Reading neighborhood boundaries: polygons of any CRS, each with a name, all of them sound."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..apart import apart
from .reading.content import FileKind, kind_of
from .reading.layers import KIND_NAMES, layer_of, readable
from .reading.table import UnreadableFile

NAME_FIELDS = ("name", "neighborhood", "neighbourhood", "label", "area", "district", "community")
MOST_POLYGONS = 20_000


@dataclass(frozen=True)
class Boundary:
    """One neighborhood: a (multi)polygon in longitude and latitude, and what came with it."""

    name: str
    polygon: Any
    attributes: dict


@dataclass(frozen=True)
class Boundaries:
    """The boundaries of a file, in its order; `notes` says what was done on the way."""

    items: tuple[Boundary, ...]
    name_field: str
    crs: str
    notes: tuple[str, ...] = field(default=())


def read_boundaries(
    path: Path, *, name_field: str | None = None, layer: str | None = None
) -> Boundaries:
    """Read polygons from a GeoPackage, a GeoJSON file or a zipped Shapefile, in EPSG:4326.

    The file is read in a process of its own.

    Raises
    ------
    UnreadableFile: the file is none of these or damaged, has no coordinate reference system, no
        field with a name for each polygon, or a polygon that crosses itself; the message says
        which.
    """
    return apart(UnreadableFile, _boundaries, Path(path).resolve(), name_field, layer)


def _boundaries(path: Path, name_field: str | None, layer: str | None) -> Boundaries:
    kind = kind_of(path)
    if kind not in KIND_NAMES:
        raise UnreadableFile(
            f"The file is a table ({kind.lower()}), not a map of boundaries. "
            "Use a GeoPackage, a GeoJSON file or a zipped Shapefile."
        )
    frame, crs = _frame(path, kind, layer)
    if len(frame) > MOST_POLYGONS:
        raise UnreadableFile(
            f"The file has {len(frame):,} polygons; at most {MOST_POLYGONS:,} can be "
            "neighborhoods. Is it a file of parcels?"
        )
    chosen = _name_field(frame, name_field)
    notes = []
    if crs != "EPSG:4326":
        frame = frame.to_crs("EPSG:4326")
        notes.append(f"Boundaries were converted from {crs} to latitude and longitude.")
    _refuse_unsound(frame, chosen)
    return Boundaries(tuple(_joined(frame, chosen, notes)), chosen, crs, tuple(notes))


def _frame(path: Path, kind: FileKind, layer: str | None):
    import pyogrio

    found = layer_of(path, kind, layer)
    if not found.about["geometry_type"]:
        raise UnreadableFile("The layer has no geometry. Choose the layer with the polygons.")
    with readable(kind):
        frame = pyogrio.read_dataframe(found.source, layer=found.name)
    if not len(frame):
        raise UnreadableFile(f"The {KIND_NAMES[kind]} holds no polygon.")
    return frame, str(found.about["crs"])


def _name_field(frame, wanted: str | None) -> str:
    fields = [str(name) for name in frame.columns if name != frame.geometry.name]
    listed = ", ".join(fields) or "none"
    if wanted is not None:
        if wanted not in fields:
            raise UnreadableFile(f"There is no field {wanted!r}. The file has: {listed}.")
        return wanted
    known = {name.lower(): name for name in fields}
    for name in NAME_FIELDS:
        if name in known:
            return known[name]
    unique_text = [n for n in fields if _is_text(frame[n]) and frame[n].is_unique]
    if len(unique_text) == 1:
        return unique_text[0]
    raise UnreadableFile(
        f"Which field names the neighborhoods? Give one of: {listed} (name field)."
    )


def _is_text(column) -> bool:
    return column.map(lambda value: isinstance(value, str)).all()


def _refuse_unsound(frame, chosen: str) -> None:
    import math

    import shapely

    for number, (name, shape) in enumerate(
        zip(frame[chosen], frame.geometry, strict=True), start=1
    ):
        said = f"Feature {number} ({str(name)[:60]!r})"
        if name is None or (isinstance(name, float) and math.isnan(name)) or not str(name).strip():
            raise UnreadableFile(f"Feature {number} has no name in the field {chosen!r}. Add one.")
        if shape is None or shape.is_empty:
            raise UnreadableFile(f"{said} has no geometry. Draw it, or remove the feature.")
        if shape.geom_type not in ("Polygon", "MultiPolygon"):
            raise UnreadableFile(
                f"{said} is a {shape.geom_type.lower()}, not an area. "
                "Choose the layer with polygons."
            )
        if not shape.is_valid:
            raise UnreadableFile(
                f"{said} is not a sound polygon: {shapely.is_valid_reason(shape)} "
                "(longitude latitude). Mend it in your GIS and export it again."
            )
        if not all(-180.01 <= x <= 180.01 for x in shape.bounds[::2]) or not all(
            -90.01 <= y <= 90.01 for y in shape.bounds[1::2]
        ):
            raise UnreadableFile(
                f"{said} lies outside the earth ({shape.bounds[0]:.0f}, {shape.bounds[1]:.0f}): "
                "the file's coordinate reference system is not the one its numbers are in."
            )


def _joined(frame, chosen: str, notes: list[str]) -> list[Boundary]:
    """One boundary a name: pieces of the same name are one neighborhood."""
    names = frame[chosen].map(_clean_name)
    several = int(names.value_counts().gt(1).sum())
    if several:
        notes.append(f"{several} names stand on several polygons, which were joined.")
    whole = frame.assign(**{chosen: names}).dissolve(by=chosen, sort=False)
    rest = whole.drop(columns=whole.geometry.name)
    return [
        Boundary(name, shape, {str(key): _plain(value) for key, value in row.items()})
        for name, row, shape in zip(
            whole.index, rest.to_dict("records"), whole.geometry.force_2d(), strict=True
        )
    ]


def _clean_name(value) -> str:
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return " ".join(str(value).split())[:120]


def _plain(value):
    """A value as JSON can hold it."""
    if value is None or value != value:
        return None
    item = getattr(value, "item", None)
    value = item() if item else value
    return value if isinstance(value, str | int | float | bool) else str(value)
