"""Parquet files, with or without geometry (GeoParquet)."""

import json
from collections.abc import Iterator
from pathlib import Path

from services_inventory.intake.reading.arrow import cells_of
from services_inventory.intake.reading.content import FileKind
from services_inventory.intake.reading.places import PLACE_HEADINGS, Placer
from services_inventory.intake.reading.table import Row, Table, UnreadableFile, checked_header

BATCH_ROWS = 20_000
DEFAULT_REFERENCE = "OGC:CRS84"


def open_parquet(path: Path) -> Table:
    """Open a Parquet file; a GeoParquet geometry becomes latitude and longitude.

    Raises `UnreadableFile` for damage, nested columns, no rows.
    """
    import pyarrow
    from pyarrow.parquet import ParquetFile

    try:
        file = ParquetFile(path)
        schema = file.schema_arrow
    except (pyarrow.ArrowException, OSError) as error:
        raise UnreadableFile(
            "The Parquet file is damaged or cut short. Export it again."
        ) from error
    geometry, placer = _geometry(schema)
    headings = [name for name in schema.names if name != geometry]
    header = checked_header([*headings, *(PLACE_HEADINGS if placer else ())], "the file")
    nested = [n for n in headings if pyarrow.types.is_nested(schema.field(n).type)]
    if nested:
        raise UnreadableFile(f"Column {nested[0]!r} holds lists or records, not single values.")
    if not file.metadata.num_rows:
        raise UnreadableFile("The Parquet file has columns but no rows.")

    def rows() -> Iterator[Row]:
        return _rows(path, headings, geometry, placer)

    return Table(
        path=path, kind=FileKind.PARQUET, rows=rows, estimated_rows=file.metadata.num_rows,
        header=header,
    )  # fmt: skip


def _geometry(schema) -> tuple[str | None, Placer | None]:
    """The geometry column and its placer, by the metadata of the GeoParquet specification."""
    told = (schema.metadata or {}).get(b"geo")
    if not told:
        return None, None
    try:
        about = json.loads(told)
        name = about["primary_column"]
        column, encoding = about["columns"][name], about["columns"][name].get("encoding", "WKB")
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise UnreadableFile(
            "What the Parquet file says of its geometry can't be read. Export it again."
        ) from error
    if encoding != "WKB" or name not in schema.names:
        raise UnreadableFile(
            f"The geometry column {str(name)[:60]!r} of the Parquet file is not there, or not "
            "written as WKB. Export it again with WKB geometry."
        )
    if "crs" in column and column["crs"] is None:
        raise UnreadableFile(
            "The coordinate reference system of the Parquet file is not known: it names none. "
            "Export it with its coordinate reference system."
        )
    crs = column.get("crs") or DEFAULT_REFERENCE
    return name, Placer(json.dumps(crs) if isinstance(crs, dict) else crs)


def _rows(path: Path, headings: list[str], geometry, placer) -> Iterator[Row]:
    import pyarrow
    from pyarrow.parquet import ParquetFile

    number = 1
    try:
        for batch in ParquetFile(path).iter_batches(BATCH_ROWS):
            columns = [cells_of(batch.column(name)) for name in headings]
            if placer:
                columns += placer.places(batch.column(geometry).to_numpy(zero_copy_only=False))
            for cells in zip(*columns, strict=True):
                number += 1
                yield number, list(cells)
    except (pyarrow.ArrowException, OSError) as error:
        raise UnreadableFile(
            f"The Parquet file can't be read beyond row {number}: it is damaged."
        ) from error
