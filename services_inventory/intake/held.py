"""Held rows, given back in the uploaded format with the reason beside each.

The cells stay as they were uploaded, so that a corrected file can be taken in again; the two
columns appended at the end are ignored then. A text that a spreadsheet would run as a formula
gets an apostrophe before it in CSV, which is taken off again on reading; a workbook holds it
as text.
"""

import csv
import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from math import isfinite
from pathlib import Path

from services_inventory.domain.formulas import without_formula
from services_inventory.intake.checking.problems import RowProblem
from services_inventory.intake.reading import FileKind, Table, UnusableCell
from services_inventory.intake.reading.table import Cell

APPENDED = ("row", "reason")
APPENDED_OTHERWISE = ("held row", "held reason")
LONGEST_IN_WORKBOOK = 32_767
# What differs between rows held for one reason: what is quoted, numbers, an address before a verb.
_VALUES = re.compile(
    r"^[^:]*?(?= is (?:(?:not )?in the record|a range))|(?<=, (?:but|and) ).*?(?= (?:is\. |of it))"
    r"|'[^']*'|\"[^\"]*\"|[A-Z][a-z]{2} \d{1,2}, \d{4}|\d[\d,.]*"
)


def alike(reason: str) -> str:
    """Return a reason without its values: what rows held for one reason have in common."""
    return _VALUES.sub("…", reason)


def typed_text(cell) -> str:
    """Return a cell as a person reads and types it; a whole number has no decimals."""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return "" if cell is None else str(cell)


def mended_cells(cells: list, mended: Mapping | None, width: int) -> list:
    """Return a row's cells with what was typed instead; a mended row is as wide as the header."""
    if not mended:
        return cells
    mended = {int(at): text for at, text in mended.items()}
    padded = [*cells, *[None] * (width - len(cells))][:width]
    return [mended.get(at, cell) for at, cell in enumerate(padded)]


def reasons_by_row(problems: Iterable[RowProblem]) -> dict[int, str]:
    """All reasons why each row is held, one after another, with their columns."""
    reasons: dict[int, list[str]] = {}
    for problem in problems:
        where = f"{problem.column}: " if problem.column else ""
        reasons.setdefault(problem.row_number, []).append(f"{where}{problem.sentence}")
    return {row: " ".join(dict.fromkeys(sentences)) for row, sentences in reasons.items()}


def write_held(
    table: Table,
    reasons: Mapping[int, str],
    path: Path | str,
    mended: Mapping[int, Mapping] | None = None,
) -> int:
    """Write the held rows of a table; return how many were written.

    A workbook gives a workbook; text gives text with the same delimiter and encoding; layers
    and Parquet give text.

    Parameters
    ----------
    table : Table
        The uploaded file's table, read once more.
    reasons : mapping of int to str
        Row number to the reason why it is held.
    path : Path or str
        Where to write; `held_name` gives a fitting name.
    mended : mapping of int to mapping, optional
        Row number to what a person typed instead of its cells, by their places.
    """
    mended = mended or {}
    own, appended = own_headings(table.header)
    ours, width = len(own) < len(table.header), len(table.header)
    rows = (
        [
            *_kept(mended_cells(cells, mended.get(number), width), ours, width),
            number,
            reasons[number],
        ]
        for number, cells in table.rows()
        if number in reasons
    )
    header = [*own, *appended]
    if table.kind == FileKind.XLSX:
        return _write_workbook(Path(path), table.sheet, header, rows)
    return _write_text(Path(path), table, header, rows)


def held_name(table: Table, uploaded_name: str) -> str:
    """The file name under which held rows of an uploaded file go back."""
    ending = ".xlsx" if table.kind == FileKind.XLSX else ".csv"
    return f"{Path(uploaded_name).stem}-held{ending}"


def own_headings(header: list[str]) -> tuple[list[str], tuple[str, str]]:
    """The uploaded headings and the names of ours; a second round replaces the first's."""
    names = [heading.casefold() for heading in header]
    for ours in (APPENDED, APPENDED_OTHERWISE):
        if tuple(names[-2:]) == ours:
            return header[:-2], ours
    return header, APPENDED_OTHERWISE if set(APPENDED) & set(names) else APPENDED


def _kept(cells: list[Cell], ours: bool, width: int) -> list[Cell]:
    """A row's uploaded cells, without what an earlier round appended.

    A row that was longer or shorter than the header stays so, and is held again until mended.
    """
    if ours and len(cells) >= 2 and (len(cells) == width or str(cells[-2]).isdecimal()):
        return cells[:-2]
    return cells


def _as_text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, UnusableCell):
        return cell.written
    return cell.isoformat() if isinstance(cell, date) else storable(str(cell))


def storable(text: str) -> str:
    """The text without what neither a file nor a database can keep: halves of characters, NUL."""
    return text.encode("utf-8", "replace").decode().replace("\x00", "?")


def _write_text(path: Path, table: Table, header: list[str], rows: Iterable[list]) -> int:
    encoding = table.encoding if table.kind == FileKind.CSV else "utf-8"
    delimiter = table.delimiter or ","
    written = 0
    with path.open("w", encoding=encoding, errors="replace", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter)
        writer.writerow(map(disarmed, header))
        for cells in rows:
            writer.writerow([disarmed(_as_text(cell)) for cell in cells])
            written += 1
    return written


def disarmed(text: str) -> str:
    """The text as no spreadsheet runs it; a number stays one, as it is read again."""
    return text if _is_number(text) else without_formula(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _write_workbook(path: Path, sheet: str, header: list[str], rows: Iterable[list]) -> int:
    import xlsxwriter

    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    written = 0
    with xlsxwriter.Workbook(path, options) as workbook:
        day = workbook.add_format({"num_format": "yyyy-mm-dd"})
        moment = workbook.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        page = workbook.add_worksheet(sheet or "held")
        for at, heading in enumerate(header):
            page.write_string(0, at, heading)
        for written, cells in enumerate(rows, start=1):
            for at, cell in enumerate(cells):
                _write_cell(page, written, at, cell, day, moment)
    return written


def _write_cell(page, row: int, at: int, cell, day, moment) -> None:
    if cell is None or cell == "":
        return
    if isinstance(cell, datetime):
        page.write_datetime(row, at, cell, moment)
    elif isinstance(cell, date):
        page.write_datetime(row, at, cell, day)
    elif isinstance(cell, int | float) and isfinite(cell):
        page.write_number(row, at, cell)
    else:
        page.write_string(row, at, _as_text(cell)[:LONGEST_IN_WORKBOOK])
