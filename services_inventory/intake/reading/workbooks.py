"""Excel workbooks: one sheet, its values, and the cells whose values the file does not hold."""

import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from io import BytesIO
from itertools import islice, zip_longest
from pathlib import Path, PurePosixPath
from xml.sax.saxutils import unescape

from services_inventory.intake.reading.content import FileKind
from services_inventory.intake.reading.table import (
    MOST_COLUMNS,
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
FILLED = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,9})"[^>]*(?<!/)>')
FORMULA = re.compile(rb"<f[^>]*>([^<]*)</f>")
VALUE = re.compile(rb"<v[^>/]*>([^<]+)</v>|<is>")
IS_ERROR = re.compile(rb'\bt="e"')
# The same however it is written: by another prefix, order or quotation mark.
ANY_ERROR = re.compile(rb"""\st\s*=\s*["']e["']""")
ANY_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
ERROR_VALUE = re.compile(rb"""(<(?:\w+:)?v[^>]*>)\s*#[A-Z_/]+[!?]?""")
PLACE = re.compile(r"([A-Z]{1,7})(\d{1,9})")
# Cells from where on a sheet is looked at: is it as large as it says, or filled in its corners?
MANY_CELLS, LEAST_SHARE_FILLED = 50_000_000, 0.05
EXTENT = re.compile(rb"""<(?:\w+:)?dimension\s+ref=["'][A-Z]+\d+:[A-Z]+(\d+)""")
HEAD_BYTES = 4_096
MANY_ROWS, MOST_LOOKED_AT = 20_000, 12
MOST_ABOVE, FEWEST_KNOWN = 20, 3
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
        grid, unusable = _chosen_sheet(path, workbook, sheet)
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
        sheets=sheet_rows(path, _visible(workbook)) if len(names) > 1 else [],
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
        notes.append(f"Rows above the headings were skipped: {above}.")
    return notes


def _chosen_sheet(path: Path, workbook, sheet: str | None) -> tuple:
    """The sheet's cells, and those whose values the file does not hold."""
    names = workbook.sheet_names
    if sheet is not None:
        matching = [name for name in names if name.casefold() == sheet.strip().casefold()]
        if not matching:
            listed = ", ".join(repr(name) for name in names)
            raise UnreadableFile(f"There is no sheet {sheet!r}. The workbook has {listed}.")
        return loaded(path, workbook, matching[0])
    for name in _likely_first(path, workbook):
        grid, unusable = loaded(path, workbook, name)
        if grid.start is not None:
            return grid, unusable
    raise UnreadableFile("No visible sheet of the workbook holds anything.")


def _visible(workbook) -> list[str]:
    return [
        about.name
        for about in workbook.sheets_metadata
        if str(about.typ).endswith("WorkSheet") and str(about.visible).endswith("Visible")
    ]


def _likely_first(path: Path, workbook) -> list[str]:
    """The visible sheets, first the one that is likely meant: of most columns that are known.

    A large sheet is hardly a cover or a list of words, so it is not looked at beside others.
    """
    names = _visible(workbook)
    rows = dict(sheet_rows(path, names)) if len(names) > 1 else {}
    if len(names) < 2:
        return names
    if max(rows.values()) > MANY_ROWS:
        return sorted(names, key=lambda name: -rows[name])
    known = {name: _columns_known(path, workbook, name) for name in names[:MOST_LOOKED_AT]}
    return sorted(names, key=lambda name: -known.get(name, 0))


def _known(header: list) -> int:
    from services_inventory.intake.columns import guess

    return len(guess([str(heading) for heading in header if heading not in ("", None)]).columns)


def _columns_known(path: Path, workbook, name: str) -> int:
    try:
        grid, _ = loaded(path, workbook, name)
        header = checked_header(_header_row(grid, name)[1]) if grid.start is not None else []
    except UnreadableFile:
        return 0
    return _known(header)


def sheet_rows(path: Path, names: list[str]) -> list[tuple[str, int]]:
    """Each sheet with the rows that it says it has, the heading left out; 0 where it doesn't."""
    found = []
    with zipfile.ZipFile(path) as archive:
        for name in names:
            entry, rows = _sheet_file(archive, name), 0
            if entry:
                with archive.open(entry) as file:
                    extent = EXTENT.search(file.read(HEAD_BYTES))
                rows = max(int(extent[1]) - 1, 0) if extent else 0
            found.append((name, rows))
    return found


def loaded(file: Path | BytesIO, workbook, name: str) -> tuple:
    """Look through a sheet before memory is set aside for it, then load it.

    Returns its cells, and by row number and column index those whose values it doesn't hold.
    Raises `UnreadableFile` where it reaches beyond what can be a table.
    """
    import python_calamine

    looked = _Look(file, name)
    try:
        return workbook.get_sheet_by_name(name), looked.unusable
    except python_calamine.CalamineError as error:
        if "cell error" not in str(error):
            raise
    with BytesIO() as copy:
        _with_known_errors(file, looked.entry, copy)
        copy.seek(0)
        known = python_calamine.CalamineWorkbook.from_filelike(copy)
        return known.get_sheet_by_name(name), looked.unusable


def _with_known_errors(file: Path | BytesIO, entry: str, copy: BytesIO) -> None:
    """Copy a workbook; spreadsheet errors newer than the reader become one that it knows."""
    with zipfile.ZipFile(file) as archive, zipfile.ZipFile(copy, "w") as out:
        for name in archive.namelist():
            content = archive.read(name)
            if name == entry:
                content = ERROR_VALUE.sub(rb"\1#N/A", content)
            out.writestr(name, content)


def _header_row(grid, name: str) -> tuple[int, list[Cell]]:
    """Rows above the header, and the header; a title alone in its row is passed over.

    A row of a few words over a row of many, as forms have "System-Owned Portion" over the columns
    of each side, tells headings apart that stand there twice.
    """
    first = list(islice(grid.iter_rows(), MOST_ABOVE + 2))
    for at, cells in enumerate(first[: MOST_ABOVE + 1]):
        filled = _filled(cells)
        if filled > 1 or (filled == 1 and grid.width < 3):
            below = first[at + 1] if at + 1 < len(first) else []
            if _filled(below) >= 2 * filled and all(isinstance(c, str) for c in below):
                grouped = _grouped(cells, below)
                if _known(grouped) >= FEWEST_KNOWN:
                    return at + 1, grouped
            return at, cells
    raise UnreadableFile(
        f"There are no headings in the first rows of sheet {name!r}. "
        "Put the column names in the first row."
    )


def _filled(cells: list[Cell]) -> int:
    return sum(1 for cell in cells if cell not in ("", None))


def _grouped(groups: list[Cell], headings: list[Cell]) -> list[Cell]:
    """The headings, those that stand there twice behind the words of their group."""
    names = Counter(str(heading).strip().casefold() for heading in headings)
    group, found = "", []
    for over, heading in zip_longest(groups, headings, fillvalue=""):
        group = str(over).strip() if over not in ("", None) else group
        twice = heading != "" and names[str(heading).strip().casefold()] > 1
        found.append(f"{group} {heading}" if twice and group else heading)
    return found


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


class _Look:
    """What a sheet's XML says before it is loaded: how far it reaches, and unusable cells.

    `unusable` gives row number, then column index, to the cell: error values and formulas
    without a result, which the reader of workbooks would pass over as blank.

    Raises `UnreadableFile` where the sheet reaches beyond what can be a table.
    """

    def __init__(self, file: Path | BytesIO, sheet: str):
        self.sheet = sheet
        self.unusable: dict[int, dict[int, UnusableCell]] = {}
        self.filled = self.rows = self.width = 0
        with zipfile.ZipFile(file) as archive:
            self.entry = _sheet_file(archive, sheet) or ""
            if self.entry:
                with archive.open(self.entry) as xml:
                    odd = sum(not self._take(piece) for piece in _pieces(xml))
                if odd:
                    with archive.open(self.entry) as xml:
                        self._take_slowly(xml)

    def _take(self, piece: bytes) -> bool:
        """Look at some rows; False where they are not written as nearly all programs do."""
        cells = FILLED.findall(piece)
        self.filled += len(cells)
        if cells:
            self.rows = max(self.rows, int(cells[-1][1]))
            self._refuse_extent({letters for letters, _ in cells})
        errors, formulas = len(ANY_ERROR.findall(piece)), len(ANY_FORMULA.findall(piece))
        if not errors + formulas:
            return True
        for letters, number, attributes, inside in CELL.findall(piece):
            formulas -= b"<f" in inside
            errors -= bool(IS_ERROR.search(attributes))
            self._note(int(number), _column_index(letters), _unusable(attributes, inside))
        return errors == formulas == 0

    def _take_slowly(self, file) -> None:
        """Look at every cell by the rules of XML, and of cells that name no place of their own."""
        from defusedxml.ElementTree import iterparse

        row = column = -1
        for event, item in iterparse(file, ("start", "end")):
            tag = item.tag.rpartition("}")[2]
            if (event, tag) == ("start", "row"):
                row, column = int(item.get("r") or row + 2) - 1, -1
            elif (event, tag) == ("start", "c"):
                place = PLACE.fullmatch(item.get("r") or "")
                column = _column_index(place[1].encode()) if place else column + 1
                row = int(place[2]) - 1 if place else row
            elif (event, tag) == ("end", "c"):
                self._note(row + 1, column, _unusable_item(item))
            elif (event, tag) == ("end", "row"):
                item.clear()

    def _note(self, number: int, column: int, cell: UnusableCell | None) -> None:
        if cell:
            self.unusable.setdefault(number, {})[column] = cell

    def _refuse_extent(self, columns: set[bytes]) -> None:
        widest = max(columns, key=_column_index)
        self.width = max(self.width, _column_index(widest) + 1)
        if self.width > MOST_COLUMNS:
            raise UnreadableFile(
                f"On sheet {self.sheet!r} something stands in column {widest.decode()}, near row "
                f"{self.rows:,}; at most {MOST_COLUMNS} columns are read. Delete what stands out "
                "there, or export only the table."
            )
        area = self.rows * self.width
        if area > MANY_CELLS and self.filled < LEAST_SHARE_FILLED * area:
            raise UnreadableFile(
                f"Sheet {self.sheet!r} reaches to column {widest.decode()} and row {self.rows:,}, "
                f"but only {self.filled:,} of those {area:,} cells are filled. Delete what stands "
                "far from the table, or export only the table."
            )


def _unusable(attributes: bytes, inside: bytes) -> UnusableCell | None:
    value = VALUE.search(inside)
    if IS_ERROR.search(attributes):
        return _error(value[1].decode("utf-8", "replace") if value and value[1] else "#N/A")
    if b"<f" in inside and not value:
        formula = FORMULA.search(inside)
        written = unescape(formula[1].decode("utf-8", "replace")) if formula else ""
        return UnusableCell(NO_RESULT, f"={written}")
    return None


def _unusable_item(item) -> UnusableCell | None:
    """The same of a cell as an element of XML."""
    found = {part.tag.rpartition("}")[2]: part.text or "" for part in item}
    if item.get("t") == "e" and found.get("v"):
        return _error(found["v"])
    if "f" in found and not found.get("v") and "is" not in found:
        return UnusableCell(NO_RESULT, f"={found['f']}")
    return None


def _error(written: str) -> UnusableCell:
    return UnusableCell(f"it holds the spreadsheet error {written}", written)


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
