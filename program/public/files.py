"""The public inventory as files: CSV and GeoJSON as they are read, GeoPackage once per change."""

import json
import os
import tempfile
from collections.abc import Iterator
from datetime import date
from itertools import islice
from pathlib import Path

from django.conf import settings
from django.utils.translation import gettext

from program.public.records import columns, public_lines, published_rows, utility, version
from program.submissions.cell_text import Notes, clean
from services_inventory.domain.formulas import csv_pieces, csv_text
from services_inventory.progress import UNFINISHED

CHUNK = 50_000
JOINED = 500
LAYER = "service_lines"
WITHOUT_PLACE = "service_lines_without_location"


def csv_lines() -> Iterator[str]:
    """Return the inventory as CSV while it is read; no text is run by a spreadsheet."""
    with_addresses = utility().publish_addresses
    names = [column.name for column in columns(with_addresses)]
    rows = published_rows(public_lines(), with_addresses)
    return csv_pieces(names, ([_plain(row[name]) for name in names] for row in rows))


def dictionary_text() -> str:
    """Return the data dictionary as CSV, in the reader's language, with each code's word."""
    header = [gettext("column"), gettext("kind"), gettext("codes"), gettext("meaning")]
    rows = (
        (column.name, column.kind_in_words, column.codes_in_words, column.meaning)
        for column in columns(utility().publish_addresses)
    )
    return csv_text(header, rows)


def feature(row: dict) -> dict:
    """Return a published row as a GeoJSON feature; without a position its geometry is null."""
    properties = {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in row.items()
        if name not in ("id", "latitude", "longitude")
    }
    place = None
    if row["longitude"] is not None and row["latitude"] is not None:
        place = {"type": "Point", "coordinates": [row["longitude"], row["latitude"]]}
    return {"type": "Feature", "id": row["id"], "geometry": place, "properties": properties}


def geojson_pieces(as_of: date) -> Iterator[str]:
    """Yield the inventory as one GeoJSON feature collection (RFC 7946)."""
    yield f'{{"type":"FeatureCollection","as_of":"{as_of.isoformat()}","features":[\n'
    rows = published_rows(public_lines(), utility().publish_addresses)
    comma = ""
    while some := list(islice(rows, JOINED)):
        yield comma + ",\n".join(json.dumps(feature(row), ensure_ascii=False) for row in some)
        comma = ",\n"
    yield "\n]}\n"


def geopackage(as_of: date) -> Path:
    """Return the inventory as a GeoPackage, written anew only when the record has changed."""
    folder = Path(settings.DATA_DIR) / "public"
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / f"inventory-{version(as_of)}.gpkg"
    if not kept.exists():
        with tempfile.TemporaryDirectory(dir=folder, prefix=UNFINISHED) as unfinished:
            path = Path(unfinished) / kept.name
            _write_geopackage(path)
            os.replace(path, kept)
        for old in folder.glob("inventory-*.gpkg"):
            if old != kept:
                old.unlink(missing_ok=True)
    return kept


def _write_geopackage(path: Path) -> None:
    with_addresses = utility().publish_addresses
    rows = published_rows(public_lines(), with_addresses)
    while some := list(islice(rows, CHUNK)) or (not path.exists() and [None]):
        some = [row for row in some if row]
        placed = [row for row in some if row["longitude"] is not None]
        placed = [row for row in placed if row["latitude"] is not None]
        ids = {row["id"] for row in placed}
        _append(path, LAYER, placed, with_addresses, points=True)
        _append(
            path,
            WITHOUT_PLACE,
            [row for row in some if row["id"] not in ids],
            with_addresses,
            points=False,
        )


def _append(path: Path, layer: str, rows: list[dict], with_addresses: bool, points: bool) -> None:
    import pyarrow as pa
    import pyogrio
    import shapely

    kinds = {"text": pa.string(), "date": pa.date32(), "number": pa.float64()}
    held = {
        column.name: pa.array([_plain(row[column.name]) for row in rows], kinds[column.kind])
        for column in columns(with_addresses)
    }
    if points:
        at = [[row["longitude"], row["latitude"]] for row in rows]
        shapes = shapely.to_wkb(shapely.points(at)) if at else []
        held["geometry"] = pa.array(shapes, pa.binary())
    pyogrio.write_arrow(
        pa.table(held),
        path,
        layer=layer,
        driver="GPKG",
        append=path.exists(),
        geometry_name="geometry" if points else None,
        geometry_type="Point" if points else None,
        crs="EPSG:4326" if points else None,
    )


def _plain(value):
    if not isinstance(value, str) or value.isprintable():
        return value
    return clean(value, Notes(), "")
