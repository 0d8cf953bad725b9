"""Opening a file by what it holds, and giving its rows in pieces: what the process apart runs."""

from collections.abc import Iterator
from dataclasses import fields
from itertools import islice
from pathlib import Path

from services_inventory.intake.reading.content import FileKind, kind_of
from services_inventory.intake.reading.pieces import ROWS_AT_ONCE, turned
from services_inventory.intake.reading.table import Row, Table, UnreadableFile

MOST_ROWS = 10_000_000


def open_here(path: Path, sheet: str | None, layer: str | None) -> Table:
    """Open a file's one table in this process; `reading.open_table` says how."""
    kind = kind_of(path)
    part = sheet or layer
    if part and kind in (FileKind.CSV, FileKind.PARQUET):
        raise UnreadableFile(
            f"A file of this kind has neither sheets nor layers: leave {part[:60]!r} out."
        )
    if kind is FileKind.CSV:
        from services_inventory.intake.reading.delimited import open_delimited

        return open_delimited(path)
    if kind is FileKind.XLSX:
        from services_inventory.intake.reading.workbooks import open_workbook

        return open_workbook(path, part)
    if kind is FileKind.PARQUET:
        from services_inventory.intake.reading.parquet import open_parquet

        return open_parquet(path)
    from services_inventory.intake.reading.layers import open_layer

    return open_layer(path, kind, part)


class Opened:
    """An open table: what it says of itself, and its rows."""

    def __init__(self, path: Path, sheet: str | None, layer: str | None):
        self.table = open_here(path, sheet, layer)
        if self.table.estimated_rows > MOST_ROWS:
            raise UnreadableFile(
                f"The file says that it has {self.table.estimated_rows:,} rows; at most "
                f"{MOST_ROWS:,} are read from one file. Divide it if it really has."
            )

    def about(self) -> Iterator[dict]:
        """Yield everything but the rows, once."""
        yield {
            field.name: getattr(self.table, field.name)
            for field in fields(Table)
            if field.name != "rows"
        }

    def pieces(self) -> Iterator[list[Row] | tuple]:
        """Yield the rows from the first on, at most a thousand at a time, for `Piece`."""
        rows = self.table.rows()
        if self.table.kind == FileKind.CSV:  # elsewhere 1 and 1.0 are equal, and not the same
            yield from turned(rows, len(self.table.header))
        while piece := list(islice(rows, ROWS_AT_ONCE)):
            yield piece
