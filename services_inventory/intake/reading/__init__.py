"""Opening an uploaded file by what it holds, whatever its name says.

CSV, Excel workbook, GeoPackage, GeoJSON, zipped Shapefile and Parquet all become one `Table`.
"""

from pathlib import Path

from services_inventory.intake.reading.content import FileKind, kind_of
from services_inventory.intake.reading.table import (
    Table,
    UnreadableFile,
    UnusableCell,
)

__all__ = ["FileKind", "Table", "UnreadableFile", "UnusableCell", "kind_of", "open_table"]


def open_table(path: Path | str, *, sheet: str | None = None, layer: str | None = None) -> Table:
    """Open a file's one table.

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
    UnreadableFile
        With a sentence that says what is wrong, where, and what to do.
    """
    path = Path(path)
    kind = kind_of(path)
    if kind is FileKind.CSV:
        from services_inventory.intake.reading.delimited import open_delimited

        return open_delimited(path)
    if kind is FileKind.XLSX:
        from services_inventory.intake.reading.workbooks import open_workbook

        return open_workbook(path, sheet)
    if kind is FileKind.PARQUET:
        from services_inventory.intake.reading.parquet import open_parquet

        return open_parquet(path)
    from services_inventory.intake.reading.layers import open_layer

    return open_layer(path, kind, layer)
