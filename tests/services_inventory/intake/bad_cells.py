"""Every column with every kind of bad cell in it, written in each format that is read.

Constructed. A row of good values has one cell replaced, so that whatever becomes of the row
becomes of it for that cell. `UNREADABLE` no column may take; `ODD` is text like any other to a
column of text, and no value to the others.
"""

import csv
import json
import zipfile
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from services_inventory.intake.columns import FIELDS, ValueKind

DAY = datetime(2028, 4, 3, 9, tzinfo=UTC)
TEXTS = {ValueKind.IDENTIFIER, ValueKind.ADDRESS, ValueKind.TEXT, ValueKind.NOTES}
WORDS = {
    ValueKind.BASIS, ValueKind.LINE_USE, ValueKind.PREMISE_KIND, ValueKind.PLUMBING,
    ValueKind.TREATMENT, ValueKind.SOLDER, ValueKind.CATEGORY,
}  # fmt: skip
YES_OR_NO = {ValueKind.WAS_LEAD, ValueKind.LEAD_CONN, ValueKind.HAS_CONN}
GOOD = {
    "address": "{n} Mill St",
    "city": "Quillwater",
    "postcode": "52401",
    "system_material": "copper",
    "system_basis": "tap card",
    "system_installed": "1995",
    "customer_material": "copper",
    "line_use": "domestic",
}
UNREADABLE = {
    "error #N/A": "#N/A",
    "error #REF!": "#REF!",
    "error #SPILL!": "#SPILL!",
    "formula": "=B2",
    "formula that calls": "=cmd|' /C calc'!A0",
    "too long": "x" * 2_500,
    "control character": "a\x9fb",
    "mark of direction": "a\u200eb",
}
ODD = {
    "NaN": "NaN",
    "infinity": "inf",
    "minus infinity": "-Infinity",
    "a number beyond floats": "1e400",
    "a number of 190 digits": "9" * 190,
    "a negative number": "-12",
    "a day before the calendar": "0000-00-00",
    "a day that no month has": "2024-02-31",
    "a day far ahead": "9999-12-31",
    "a day beyond the calendar": "10000-01-01",
    "a year of two digits": "5/2/24",
    "a truth value": "TRUE",
    "a word of nowhere": "qqqq zzzz",
    "other script": "٣٤٥ 管",
    "HTML": "<b>1</b>",
}
BLANK = {"NaN"}  # a usual word for "not known"
# A text table has no such cell: its bytes would be no text at all.
HALF = "a half of a character"
FORMATS = ("CSV", "XLSX", "GEOJSON", "GEOPACKAGE", "SHAPEFILE", "PARQUET")
LONGEST_IN_SHAPEFILE = 254


@dataclass(frozen=True)
class Tried:
    """One cell that was tried: where, what, and the identifier of its row."""

    field: str
    content: str
    identifier: str
    cells: dict


def tried(kind: str) -> list[Tried]:
    """Return a row for each column of the table of fields and each kind of bad cell."""
    contents = UNREADABLE | ODD | ({} if kind in ("CSV", "XLSX") else {HALF: "a\ud800b"})
    rows = []
    for field in FIELDS:
        for name, bad in contents.items():
            number = len(rows) + 1
            cells = {key: value.format(n=number) for key, value in GOOD.items()}
            cells |= {"location_id": f"T-{number:05d}", field: bad}
            rows.append(Tried(field, name, f"T-{number:05d}", cells))
    return rows


def may_be_taken(case: Tried, kind: str) -> bool:
    """Tell whether a row may go into the record in spite of, or with, its cell."""
    column = FIELDS[case.field].kind
    if case.content in UNREADABLE:
        # A Shapefile keeps 254 characters, which a note may have.
        return kind == "SHAPEFILE" and case.content == "too long" and column is ValueKind.NOTES
    if case.content == HALF and kind != "GEOJSON":  # whose reader puts a mark in its place
        return False
    if column in YES_OR_NO and case.content == "a truth value":
        return True
    return column in TEXTS or column in WORDS or case.content in BLANK


def write(kind: str, rows: list[Tried], folder: Path) -> Path:
    """Write the rows in one format, all cells as text but what the format has a cell for."""
    header = list(FIELDS)
    table = [[row.cells.get(field, "") for field in header] for row in rows]
    return _WRITERS[kind](folder, header, table)


def _csv(folder: Path, header: list, table: list) -> Path:
    path = folder / "cells.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([header, *table])
    return path


def _xlsx(folder: Path, header: list, table: list) -> Path:
    import xlsxwriter

    path = folder / "cells.xlsx"
    with xlsxwriter.Workbook(path, {"strings_to_formulas": False}) as workbook:
        page = workbook.add_worksheet("Lines")
        page.write_row(0, 0, header)
        for number, cells in enumerate(table, start=1):
            for at, cell in enumerate(cells):
                if cell.startswith("#"):
                    page.write_formula(number, at, "=X1", None, cell)
                elif cell.startswith("="):
                    page.write_formula(number, at, cell, None, "")
                else:
                    page.write_string(number, at, cell)
    return _as_errors(path)


def _as_errors(path: Path) -> Path:
    """Mark the newer spreadsheet errors as errors, which the writer of this test doesn't."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    marked = b't="str"><f>X1</f><v>#'
    parts[name] = parts[name].replace(marked, marked.replace(b"str", b"e"))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    return path


def _geojson(folder: Path, header: list, table: list) -> Path:
    path = folder / "cells.geojson"
    features = [
        {"type": "Feature", "properties": dict(zip(header, cells, strict=True)), "geometry": None}
        for cells in table
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def _layer(driver: str, name: str):
    def write_layer(folder: Path, header: list, table: list) -> Path:
        import geopandas
        from shapely import Point

        path = folder / name
        table = [[_bytes_kept(cell) for cell in cells] for cells in table]
        frame = geopandas.GeoDataFrame(
            table, columns=headings(driver, header), geometry=[Point(-100, 41)] * len(table),
            crs="EPSG:4326",
        )  # fmt: skip
        frame.to_file(path, driver=driver)
        _halves_back(path)
        return path

    return write_layer


def _bytes_kept(cell: str) -> str:
    """Stand in for half a character, which the writers of layers refuse; put back in the file."""
    return cell.replace("\ud800", "€")


def _halves_back(path: Path) -> None:
    """Make the bytes of the stand-ins those of half a character (CESU-8), of equal length."""
    for part in path.parent.glob(f"{path.stem}.*"):
        content = part.read_bytes()
        part.write_bytes(content.replace("a€b".encode(), b"a\xed\xa0\x80b"))


def headings(driver: str, header: list) -> list:
    """Return headings as the format keeps them: a Shapefile ten characters."""
    return [f"c{at}" for at, _ in enumerate(header)] if driver == "ESRI Shapefile" else header


def _shapefile(folder: Path, header: list, table: list) -> Path:
    inner = folder / "shapes"
    inner.mkdir()
    cut = [[cell[:LONGEST_IN_SHAPEFILE] for cell in cells] for cells in table]
    _layer("ESRI Shapefile", "cells.shp")(inner, header, cut)
    path = folder / "cells.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for part in sorted(inner.iterdir()):
            archive.write(part, part.name)
    return path


def _parquet(folder: Path, header: list, table: list) -> Path:
    import pyarrow
    import pyarrow.parquet

    path = folder / "cells.parquet"
    columns = [
        pyarrow.array([c.encode("utf-8", "surrogatepass") for c in cells], pyarrow.binary())
        for cells in zip(*table, strict=True)
    ]
    texts = [
        pyarrow.Array.from_buffers(pyarrow.string(), len(one), one.buffers()) for one in columns
    ]
    pyarrow.parquet.write_table(pyarrow.table(texts, names=header), path)
    return path


_WRITERS = {
    "CSV": _csv,
    "XLSX": _xlsx,
    "GEOJSON": _geojson,
    "GEOPACKAGE": _layer("GPKG", "cells.gpkg"),
    "SHAPEFILE": _shapefile,
    "PARQUET": _parquet,
}


def typed_columns() -> dict:
    """Return values of the types that Parquet has and text has not, by name, as Arrow arrays."""
    from datetime import time, timedelta
    from decimal import Decimal

    import pyarrow as pa

    most = 2**31 - 1
    return {
        "floats": pa.array([float("nan"), float("inf"), -float("inf"), 1e308, -0.0]),
        "whole numbers": pa.array([2**62, -(2**62), -1, 0], pa.int64()),
        "truth values": pa.array([True, False]),
        "days beyond the calendar": pa.array([most, -most], pa.int32()).cast(pa.date32()),
        "moments beyond the calendar": pa.array([2**62, -(2**62)]).cast(pa.timestamp("us")),
        "moments to the billionth": pa.array([123_456_789_123], pa.timestamp("ns", "UTC")),
        "times of day": pa.array([time(12, 30)]),
        "durations": pa.array([timedelta(days=3)]),
        "decimals": pa.array([Decimal("1.50"), Decimal("-9e20")]),
        "bytes": pa.array([b"\xff\xfe\x00", b"copper"]),
        "categories": pa.array(["#N/A", "=B2"]).dictionary_encode(),
        "nothing": pa.nulls(2),
    }


def write_typed(values, fields: list[str], folder: Path) -> tuple[Path, int]:
    """Write a Parquet file in which these columns are of one type; return it and its rows.

    Each value stands in one column of one row, beside an identifier unless that is tried.
    """
    import pyarrow as pa
    import pyarrow.parquet

    count = len(values) * len(fields)
    columns = {"location_id": pa.array([f"T-{number}" for number in range(count)])}
    for at, field in enumerate(fields):
        before, after = at * len(values), count - (at + 1) * len(values)
        gaps = (pa.nulls(before, values.type), values, pa.nulls(after, values.type))
        columns[field] = pa.chunked_array(gaps)
    path = folder / "typed.parquet"
    pyarrow.parquet.write_table(pa.table(columns), path)
    return path, count


def as_table(counted: dict[str, Counter]) -> str:
    """Return what became of the cells, by format and kind of content, as a table."""
    lines = ["| format: content | tried | held | taken in | crashed |", "|---|---|---|---|---|"]
    for name, count in counted.items():
        cells = (count["tried"], count["held"], count["taken"], count["crashed"])
        lines.append(f"| {name} | {' | '.join(map(str, cells))} |")
    return "\n".join(lines)
