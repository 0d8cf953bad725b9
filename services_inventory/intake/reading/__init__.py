"""Opening an uploaded file by what it holds, whatever its name says.

CSV, Excel workbook, GeoPackage, GeoJSON, zipped Shapefile and Parquet all become one `Table`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from services_inventory.apart import Apart
from services_inventory.intake.reading.content import FileKind, kind_of
from services_inventory.intake.reading.opening import Opened
from services_inventory.intake.reading.pieces import Piece
from services_inventory.intake.reading.table import Row, Table, UnreadableFile, UnusableCell


@dataclass(frozen=True)
class ReadApart(Table):
    """A table that a process of its own reads: its rows come in pieces."""

    pieces: Callable[[], Iterator[Piece]] = field(kw_only=True)


def open_table(
    path: Path | str, *, sheet: str | None = None, layer: str | None = None
) -> ReadApart:
    """Open a file's one table; it is read in a process of its own, which ends with the table.

    Parameters
    ----------
    path : Path or str
        The uploaded file.
    sheet : str, optional
        The sheet of a workbook; otherwise its first visible sheet that holds anything.
    layer : str, optional
        The layer of a GeoPackage or zipped Shapefile, where there are several.

    Raises
    ------
    UnreadableFile: with a sentence that says what is wrong, where, and what to do.
    """
    process = Apart(UnreadableFile)
    process.keep(Opened, Path(path).resolve(), sheet, layer)
    (about,) = process.each("about")

    def pieces() -> Iterator[Piece]:
        return map(Piece, process.each("pieces"))

    def rows() -> Iterator[Row]:
        for piece in pieces():
            yield from piece

    return ReadApart(rows=rows, pieces=pieces, **about)
