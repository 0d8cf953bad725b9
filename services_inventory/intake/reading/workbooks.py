"""Excel workbooks: one sheet, its values, and the cells whose values the file does not hold."""

import re
import zipfile
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from pathlib import Path, PurePosixPath
from xml.sax.saxutils import unescape

from services_inventory.intake.reading.content import FileKind
from services_inventory.intake.reading.table import (
    Cell,
    Row,
    Table,
    UnreadableFile,
    UnusableCell,
    checked_header,
    is_blank,
)

CHUNK_BYTES = 1 << 20
CELL = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"([^>]*)(?<!/)>(.*?)</c>', re.DOTALL)
FORMULA = re.compile(rb"<f[^>]*>([^<]*)</f>")
VALUE = re.compile(rb"<v[^>/]*>([^<]+)</v>|<is>")
IS_ERROR = re.compile(rb'\bt="e"')
NO_RESULT = (
    "it holds a formula whose result is not in the file; open the workbook in a spreadsheet "
    "program, let it calculate, and save it"
)


def open_workbook(path: Path, sheet: str | None) -> Table:
    """Open one sheet of a workbook.

    Raises `UnreadableFile` for a password, damage, a sheet that isn't there, no rows.
    """
    import python_calamine

    try:
        workbook = python_calamine.CalamineWorkbook.from_path(path)
        names = workbook.sheet_names
        grid = _chosen_sheet(workbook, sheet)
        chosen = grid.name
    except python_calamine.PasswordError as error:
        raise UnreadableFile(
            "The workbook is protected by a password. Save it without one and upload it again."
        ) from error
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise UnreadableFile(
            "The workbook is damaged and can't be opened. Open it in a spreadsheet program, "
            "save it anew and upload it again."
        ) from error
    unusable = _unusable_cells(path, chosen)
    above, cells = _header_row(grid, chosen)
    header = checked_header(cells, f"row {above + 1} of sheet {chosen!r}")
    notes = _notes(path, chosen, names, above)

    def rows() -> Iterator[Row]:
        return _rows(grid, above, len(header), unusable)

    if next(rows(), None) is None:
        raise UnreadableFile(f"Sheet {chosen!r} has headings but no rows under them.")
    return Table(
        path=path, kind=FileKind.XLSX, header=header, rows=rows,
        estimated_rows=max(grid.end[0] - above, 1), sheet=chosen, choices=names,
        notes=notes,
    )  # fmt: skip


def _notes(path: Path, chosen: str, names: list[str], above: int) -> list[str]:
    notes = []
    if path.suffix.lower() == ".csv":
        notes.append("The name ends in .csv but the file is an Excel workbook; it was read as one.")
    others = [name for name in names if name != chosen]
    if others:
        listed = ", ".join(repr(name) for name in others[:5])
        notes.append(f"Sheet {chosen!r} was read; the workbook also has {listed}.")
    if above:
        notes.append(f"{above} row(s) above the headings were skipped.")
    return notes


def _chosen_sheet(workbook, sheet: str | None):
    names = workbook.sheet_names
    if sheet is not None:
        matching = [name for name in names if name.casefold() == sheet.strip().casefold()]
        if not matching:
            listed = ", ".join(repr(name) for name in names)
            raise UnreadableFile(f"There is no sheet {sheet!r}. The workbook has {listed}.")
        return workbook.get_sheet_by_name(matching[0])
    for about in workbook.sheets_metadata:
        if str(about.typ).endswith("WorkSheet") and str(about.visible).endswith("Visible"):
            grid = workbook.get_sheet_by_name(about.name)
            if grid.start is not None:
                return grid
    raise UnreadableFile("No visible sheet of the workbook holds anything.")


def _header_row(grid, name: str) -> tuple[int, list[Cell]]:
    """Rows above the header, and the header; a title alone in its row is passed over."""
    for at, cells in enumerate(grid.iter_rows()):
        filled = sum(1 for cell in cells if cell not in ("", None))
        if filled > 1 or (filled == 1 and grid.width < 3):
            return at, cells
        if at >= 20:
            break
    raise UnreadableFile(
        f"There are no headings in the first rows of sheet {name!r}. "
        "Put the column names in the first row."
    )


def _rows(
    grid, above: int, width: int, unusable: dict[int, dict[int, UnusableCell]]
) -> Iterator[Row]:
    for number, cells in enumerate(grid.iter_rows(), start=1):
        if number <= above + 1:
            continue
        for at, cell in unusable.get(number, {}).items():
            if at < len(cells):
                cells[at] = cell
        cells = [_plain(cell) if type(cell) not in (str, float) else cell for cell in cells]
        while len(cells) > width and cells[-1] in ("", None):
            cells.pop()
        if not is_blank(cells):
            yield number, cells


def _plain(cell):
    """Dates without a time of day as dates; truth values, times and durations as text."""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, datetime):
        return cell.date() if cell.time() == time() else cell
    if isinstance(cell, time | timedelta):
        return str(cell)
    return cell


def _unusable_cells(path: Path, sheet: str) -> dict[int, dict[int, UnusableCell]]:
    """Row number to column index to cell, of error values and formulas without a result."""
    found: dict[int, dict[int, UnusableCell]] = {}
    with zipfile.ZipFile(path) as archive:
        name = _sheet_file(archive, sheet)
        if name is None:
            return found
        with archive.open(name) as file:
            for piece in _pieces(file):
                if b"<f" in piece or IS_ERROR.search(piece):
                    for letters, number, attributes, inside in CELL.findall(piece):
                        cell = _unusable(attributes, inside)
                        if cell:
                            found.setdefault(int(number), {})[_column_index(letters)] = cell
    return found


def _unusable(attributes: bytes, inside: bytes) -> UnusableCell | None:
    value = VALUE.search(inside)
    if IS_ERROR.search(attributes):
        error = value[1].decode() if value and value[1] else "#N/A"
        return UnusableCell(f"it holds the spreadsheet error {error}", error)
    if b"<f" in inside and not value:
        formula = FORMULA.search(inside)
        written = unescape(formula[1].decode("utf-8", "replace")) if formula else ""
        return UnusableCell(NO_RESULT, f"={written}")
    return None


def _pieces(file) -> Iterator[bytes]:
    """The sheet's XML in pieces that end with a row, so that no cell is cut."""
    left = b""
    while chunk := file.read(CHUNK_BYTES):
        left += chunk
        cut = left.rfind(b"</row>")
        if cut >= 0:
            yield left[:cut]
            left = left[cut:]
    yield left


def _sheet_file(archive: zipfile.ZipFile, sheet: str) -> str | None:
    """The archive's entry that holds a sheet's cells."""
    from defusedxml import ElementTree

    try:
        workbook = ElementTree.fromstring(archive.read("xl/workbook.xml"))
        relations = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    except (KeyError, ElementTree.ParseError):
        return None
    targets = {item.get("Id"): item.get("Target", "") for item in relations}
    for item in workbook.iter():
        if item.tag.endswith("}sheet") and item.get("name") == sheet:
            ids = [value for key, value in item.attrib.items() if key.endswith("}id")]
            target = targets.get(ids[0] if ids else None, "")
            name = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            name = str(PurePosixPath(name))
            return name if name in archive.namelist() else None
    return None


def _column_index(letters: bytes) -> int:
    index = 0
    for letter in letters:
        index = index * 26 + letter - 64
    return index - 1
