"""Layers of GeoPackage, GeoJSON and zipped Shapefile, with latitude and longitude of each row."""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from services_inventory.intake.reading.arrow import cells_of
from services_inventory.intake.reading.content import FileKind
from services_inventory.intake.reading.delimited import lines_decoded
from services_inventory.intake.reading.places import PLACE_HEADINGS, Placer
from services_inventory.intake.reading.table import Row, Table, UnreadableFile, checked_header

BATCH_ROWS = 20_000
KIND_NAMES = {
    FileKind.GEOPACKAGE: "GeoPackage",
    FileKind.GEOJSON: "GeoJSON file",
    FileKind.SHAPEFILE: "Shapefile",
}


class Layer(NamedTuple):
    """Where one layer of a file lies, which others there are, and what the file says of it."""

    source: str
    name: str | None
    choices: list[str]
    about: dict


@contextmanager
def readable(kind: FileKind) -> Iterator[None]:
    """Say in words that a file is damaged where the reader of layers breaks on it."""
    from pyogrio.errors import DataLayerError, DataSourceError

    try:
        yield
    except (DataSourceError, DataLayerError) as error:
        raise UnreadableFile(
            f"The {KIND_NAMES[kind]} is damaged or incomplete and can't be opened. Export it again."
        ) from error


def layer_of(path: Path, kind: FileKind, layer: str | None) -> Layer:
    """Find one layer of a file.

    Raises `UnreadableFile` for damage, a missing layer, a missing coordinate reference system.
    """
    import pyogrio

    source = str(path)
    with readable(kind):
        if kind is FileKind.SHAPEFILE:
            inner, choices = _shapefile_in(path, layer)
            source, layer = f"/vsizip/{{{path}}}/{inner}", None
        else:
            _refuse_other_text(path, kind)
            choices = [str(name) for name in pyogrio.list_layers(source)[:, 0]]
            layer = _chosen_layer(choices, layer, kind)
        about = pyogrio.read_info(source, layer=layer)
    _refuse_without_reference(about, kind)
    return Layer(source, layer, choices, about)


def open_layer(path: Path, kind: FileKind, layer: str | None) -> Table:
    """Open one layer, see `layer_of`; geometry becomes latitude and longitude in EPSG:4326."""
    source, layer, choices, about = layer_of(path, kind, layer)
    headings = [str(name) for name in about["fields"]]
    placer = Placer(about["crs"]) if about["geometry_type"] else None
    header = checked_header([*headings, *(PLACE_HEADINGS if placer else ())], "the layer")
    if not about["features"]:
        raise UnreadableFile(f"The {KIND_NAMES[kind]} has columns but no rows.")

    def rows() -> Iterator[Row]:
        return _rows(source, layer, headings, placer)

    notes = []
    if placer and about["crs"] != "EPSG:4326":
        notes.append(f"Places were converted from {about['crs']} to latitude and longitude.")
    return Table(
        path=path, kind=kind, header=header, rows=rows, estimated_rows=int(about["features"]),
        encoding=about.get("encoding") or "", layer=layer or "", choices=choices, notes=notes,
    )  # fmt: skip


def _refuse_other_text(path: Path, kind: FileKind) -> None:
    """GeoJSON is UTF-8 (RFC 7946 and 8259); any other text would only seem to be read."""
    if kind is FileKind.GEOJSON:
        try:
            lines = 0
            for lines in lines_decoded(path, "utf-8"):  # noqa: B007
                pass
        except UnicodeDecodeError as error:
            raise UnreadableFile(
                f"Near line {lines + 1} the GeoJSON file is not UTF-8, as GeoJSON has to be; it "
                "may be Windows-1252 or Latin-1. Save it as UTF-8 and upload it again."
            ) from error


def _refuse_without_reference(about: dict, kind: FileKind) -> None:
    if about["geometry_type"] and not about["crs"]:
        lacking = (
            "its .prj file is missing" if kind is FileKind.SHAPEFILE else "the layer names none"
        )
        raise UnreadableFile(
            f"The coordinate reference system of the {KIND_NAMES[kind]} is not known: {lacking}. "
            "Export it with its coordinate reference system, so that every line lands where it is."
        )


def _chosen_layer(names: list[str], layer: str | None, kind: FileKind) -> str:
    listed = ", ".join(repr(name) for name in names)
    if not names:
        raise UnreadableFile(f"The {KIND_NAMES[kind]} holds no layer.")
    if layer is None:
        if len(names) > 1:
            raise UnreadableFile(f"There are several layers: {listed}. Say which one to read.")
        return names[0]
    if layer not in names:
        raise UnreadableFile(f"There is no layer {layer!r}. The file has {listed}.")
    return layer


def _shapefile_in(path: Path, layer: str | None) -> tuple[str, list[str]]:
    with zipfile.ZipFile(path) as archive:
        entries = archive.namelist()
    shapes = {
        PurePosixPath(name).stem: name
        for name in entries
        if name.lower().endswith(".shp") and not name.startswith("__MACOSX")
    }
    chosen = _chosen_layer(list(shapes), layer, FileKind.SHAPEFILE)
    inner = shapes[chosen]
    present = {name.lower() for name in entries}
    missing = [end for end in (".dbf", ".shx") if inner[:-4].lower() + end not in present]
    if missing:
        raise UnreadableFile(
            f"The Shapefile {chosen!r} lacks its {' and '.join(missing)} file. "
            "Zip all files of the same name together."
        )
    return inner, list(shapes)


def _rows(source: str, layer: str | None, headings: list[str], placer) -> Iterator[Row]:
    import pyarrow
    from pyogrio.errors import DataSourceError
    from pyogrio.raw import open_arrow

    number = 1
    try:
        with open_arrow(source, layer=layer, batch_size=BATCH_ROWS, use_pyarrow=True) as (
            about,
            batches,
        ):
            geometry = about["geometry_name"] or "wkb_geometry"
            for batch in batches:
                columns = [cells_of(batch.column(name)) for name in headings]
                if placer:
                    columns += placer.places(batch.column(geometry).to_numpy(zero_copy_only=False))
                for cells in zip(*columns, strict=True):
                    number += 1
                    yield number, list(cells)
    except (DataSourceError, pyarrow.ArrowException) as error:
        raise UnreadableFile(
            f"The layer can't be read beyond row {number}: it is damaged. Export it again."
        ) from error
