"""The submission as one workbook: summary first, then the lists, every cell in its real type.

Rows stream through the writer's constant-memory mode, so memory does not grow with the list.
The same facts and rows give the same bytes: the only date inside is the submission's own.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import chain
from math import ceil
from pathlib import Path
from textwrap import wrap
from typing import NamedTuple

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name

from program.submissions.cell_text import APOSTROPHE_NOTE, CELL_LENGTH_MAX, Notes, clean
from program.submissions.digest import WrittenFile, put_in_place, written
from program.submissions.facts import THE_YEAR, SubmissionFacts, Total, summary_lines
from program.submissions.figures import figure_cell
from program.submissions.layouts import STANDARD, Layout, LayoutError
from program.submissions.line_sheet import (
    MOST_KEPT,
    LineSheet,
    line_writer,
    number_tail,
    text_tail,
)
from program.submissions.lists import Lists
from program.submissions.rows import (
    KeyedFact,
)
from program.submissions.summary_sheet import (
    WIDTHS,
    SummarySheet,
    how_counted,
    is_countable,
    shown,
)
from program.submissions.tables import DATES, Column
from services_inventory.domain.reporting import Report

ROWS_PER_SHEET = 1_000_000
LINE_HEIGHT = 13  # of a line of text, in points
PAGE_WIDE = 205  # characters of columns that a Letter page shows at a size that can be read
WRAPS_FROM = 20  # characters: narrower columns hold codes, days and numbers
REPORT_EVERY = 5_000


class _Part(NamedTuple):
    """One worksheet of a list: its name, its number and how many rows it holds."""

    name: str
    number: int
    rows: int


def write_workbook(
    path: Path,
    facts: SubmissionFacts,
    lists: Lists,
    *,
    layout: Layout = STANDARD,
    report: Report | None = None,
    rows_per_sheet: int = ROWS_PER_SHEET,
) -> WrittenFile:
    """Write the workbook and put it in place only when it is whole.

    `report(done, total)` hears of the line list's progress; `rows` of the result counts by sheet.

    Raises:
        LayoutError: a row holds a code that the layout has no word for.

    """
    short = lists.by_sheet(facts, layout.lists(facts.is_amendment))
    with put_in_place(path) as unfinished:
        book = _Book(unfinished, facts, layout, rows_per_sheet)
        try:
            counts = book.write(short, lists.lines(), report)
        except BaseException:
            book.abandon()
            raise
        book.close()
    return written(path, counts, book.notes.lines())


class _Book:
    """One workbook in the making."""

    def __init__(self, path: Path, facts: SubmissionFacts, layout: Layout, rows_per_sheet: int):
        self.facts, self.layout, self.rows_per_sheet = facts, layout, rows_per_sheet
        self.notes = Notes()
        self.book = xlsxwriter.Workbook(
            str(path),
            {
                "constant_memory": True,
                "tmpdir": str(path.parent),
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        created = datetime(facts.as_of.year, facts.as_of.month, facts.as_of.day)
        title = f"Annual submission, {facts.system_name}"
        self.book.set_properties({"title": _plain(title), "created": created})
        self.formats = _formats(self.book, DATES[layout.dates][0])
        self.summary = self._sheet("Summary", WIDTHS)
        self.recount = self._sheet("Recount by hand", (14, 46, 14, 14, 80))

    def write(self, lists, lines, report) -> dict[str, int]:
        """Write every sheet in order and return the rows of each list."""
        parts = {key: self.list_sheets(key, rows, None) for key, rows in lists.items()}
        self.facts_sheet("Validation", self.facts.validation)
        self.facts_sheet("Deferred deadline", self.facts.deferral)
        parts["lines"] = self.list_sheets("lines", lines, report)
        SummarySheet(self).write()
        self.recount_sheet(parts)
        self.columns_sheet()
        self.notes_sheet()
        return {key: sum(part.rows for part in made) for key, made in parts.items()}

    def close(self) -> None:
        """Finish the file."""
        self.book.close()

    def abandon(self) -> None:
        """Let go of the temporary files of a workbook that will not be finished."""
        for sheet in self.book.worksheets():
            sheet.row_data_fh.close()
        self.book.fileclosed = True

    def _sheet(self, name: str, widths: Sequence[int]):
        sheet = self.book.add_worksheet(name, LineSheet)
        sheet.set_landscape()
        sheet.set_paper(1)  # US letter
        sheet.set_margins(left=0.5, right=0.5, top=0.7, bottom=0.6)
        sheet.fit_to_pages(ceil(sum(widths) / PAGE_WIDE), 0)
        facts = self.facts
        sheet.set_header(f"&L{_header_text(facts.system_name)}&R&A")
        sheet.set_footer(f"&LAs of {facts.as_of.isoformat()}&RPage &P of &N")
        for index, width in enumerate(widths):
            sheet.set_column(index, index, width)
        return sheet

    def text(self, sheet, row: int, col: int, value: object, form=None) -> None:
        """Write text as text, whatever it starts with."""
        plain = clean(str(value), self.notes, f"{sheet.get_name()} row {row + 1}")
        if plain:
            sheet.write_string(row, col, plain, form)

    def figure(self, sheet, row: int, col: int, value: object, form=None) -> None:
        """Write a figure as a number or a day that is shown as its text; other text as text."""
        cell = figure_cell(value)
        if isinstance(cell.value, str):
            self.text(sheet, row, col, value, form)
        elif isinstance(cell.value, date):
            sheet.write_datetime(row, col, cell.value, self.formats["date"])
        else:
            sheet.write_number(row, col, cell.value, self.number_format(cell.shown_as))

    def number_format(self, shown_as: str):
        """Return the format of a number, made once."""
        if shown_as not in self.formats:
            self.formats[shown_as] = self.book.add_format(
                _PLAIN | {"num_format": shown_as, "align": "right"}
            )
        return self.formats[shown_as]

    def height(self, sheet, row: int, values: Sequence, widths: Sequence[int]) -> None:
        """Give a row the height of its longest text, wrapped; no program has to work it out."""
        lines = max(
            (_lines(value, width) for value, width in zip(values, widths, strict=False)), default=1
        )
        if lines > 1:
            sheet.set_row(row, LINE_HEIGHT * min(lines, 30) + 1)

    def headings(self, sheet, row: int, headings: Sequence[str]) -> None:
        """Write one row of column headings."""
        for col, heading in enumerate(headings):
            sheet.write_string(row, col, heading, self.formats["heading"])

    def list_sheets(self, key: str, rows: Iterable[tuple], report: Report | None) -> list[_Part]:
        """Write one list over as many sheets as it needs, and name their ranges."""
        name = self.layout.sheet_name(key)
        expected = self.facts.totals["A5"] if key == "lines" else 0
        rows, parts, done = iter(self.layout.shaped(key, rows)), [], 0
        while True:
            first = next(rows, None)
            if first is None and parts:
                return parts
            part_name = f"{name} {len(parts) + 1}" if parts else name
            sheet = self._sheet(part_name, [c.width for c in self.layout.columns(key)])
            some = chain((first,), rows) if first is not None else ()
            tell = (lambda n, base=done: report(base + n, expected)) if report else None
            count = self._fill(sheet, key, some, tell)
            done += count
            parts.append(_Part(part_name, len(parts) + 1, count))
            self._dress(sheet, key, parts[-1])
            if not count:
                sheet.fit_to_pages(1, 1)

    def _fill(self, sheet, key: str, rows: Iterable[tuple], tell) -> int:
        columns = self.layout.columns(key)
        headings = [column.heading for column in columns]
        self.height(sheet, 0, headings, [column.width for column in columns])
        self.headings(sheet, 0, headings)
        positions, wraps = self.layout.positions(key), key != "lines"
        if wraps:
            write = _row_writer(self, sheet, columns, positions)
            write = _wrapping(self, sheet, columns, positions, write)
        else:
            write = _line_writer(self, sheet, columns, positions)
        count, limit = 0, self.rows_per_sheet
        for row in rows:
            count += 1
            write(count, row)
            if tell and count % REPORT_EVERY == 0:
                tell(count)
            if count == limit:
                break
        if tell:
            tell(count)
        return count

    def _dress(self, sheet, key: str, part: _Part) -> None:
        columns = self.layout.columns(key)
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        if sum(column.width for column in columns) > PAGE_WIDE:
            sheet.repeat_columns(0, 1)
        sheet.autofilter(0, 0, part.rows, len(columns) - 1)
        for index, column in enumerate(columns):
            letter, last = xl_col_to_name(index), max(part.rows, 1) + 1
            where = f"='{part.name.replace(chr(39), chr(39) * 2)}'!${letter}$2:${letter}${last}"
            self.book.define_name(_range_name(key, column.key, part.number), where)

    def facts_sheet(self, name: str, facts: Sequence[KeyedFact]) -> None:
        """Write the validation report or the deferred-deadline sheet, if there is one."""
        if not facts:
            return
        widths = (46, 70, 26, 10)
        sheet = self._sheet(name, widths)
        self.headings(sheet, 0, ("Item", "Value", "Citation", "Mark"))
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        for row, fact in enumerate(facts, start=1):
            self.height(sheet, row, fact, widths)
            for col, value in enumerate(fact):
                self.figure(sheet, row, col, value, self.formats["wrapped"])

    def recount_sheet(self, parts) -> None:
        """Write how a second person counts each total, with live formulas beside the totals."""
        sheet = self.recount
        self.text(
            sheet,
            0,
            0,
            "Recount column: worked out by your spreadsheet when it recalculates (empty until "
            "then). By hand: filter the sheet as said and read the number of rows.",
        )
        self.headings(sheet, 1, ("Code", "Total", "As stated", "Recount", "How to count it"))
        sheet.freeze_panes(2, 0)
        sheet.repeat_rows(1)
        counted = [
            line
            for line in summary_lines(self.facts)
            if line.total and is_countable(self.layout, line.total)
        ]
        for row, line in enumerate(counted, start=2):
            self.text(sheet, row, 0, line.code)
            self.text(sheet, row, 1, line.heading)
            sheet.write_number(row, 2, line.value, self.formats["int"])
            formula = _count_formula(self, line.total, parts[line.total.sheet])
            sheet.write_formula(row, 3, formula, self.formats["int"], "")
            how = how_counted(self.layout, self.facts, line)
            self.height(sheet, row, (how,), (80,))
            self.text(sheet, row, 4, how, self.formats["wrapped"])

    def columns_sheet(self) -> None:
        """Write the data dictionary."""
        widths = (22, 24, 22, 10, 60, 40)
        sheet = self._sheet("Columns", widths)
        heads = ("Sheet", "Heading", "Column", "Type", "Meaning", "Words used")
        self.headings(sheet, 0, heads)
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        row = 0
        for key in self.layout.lists(self.facts.is_amendment):
            for column in self.layout.columns(key):
                row += 1
                said = (self.layout.sheet_name(key), column.heading, column.key, column.kind)
                said = (*said, column.comment, self.layout.words_used(column))
                self.height(sheet, row, said, widths)
                for col, value in enumerate(said):
                    self.text(sheet, row, col, value, self.formats["wrapped"])
        self.text(sheet, row + 2, 0, APOSTROPHE_NOTE)

    def notes_sheet(self) -> None:
        """Write what was altered in the recorded text so that it fits a cell."""
        sheet = self._sheet("Notes", (120,))
        self.headings(sheet, 0, ("Text altered so that it fits a cell",))
        lines = self.notes.lines() or ("No text was altered.",)
        for row, line in enumerate(lines, start=1):
            self.height(sheet, row, (line,), (120,))
            sheet.write_string(row, 0, line, self.formats["wrapped"])


def _count_formula(book: _Book, total: Total, parts: Sequence[_Part]) -> str:
    terms = []
    for part in parts:
        for where in total.where:
            pairs = []
            for key, code in where:
                said = shown(book.layout, book.facts, total, key, code).replace('"', '""')
                word = said if code == THE_YEAR else f'"{said}"'
                pairs.append(f"{_range_name(total.sheet, key, part.number)},{word}")
            every = _range_name(total.sheet, "location_id", part.number)
            terms.append(f"COUNTIFS({','.join(pairs)})" if pairs else f"COUNTA({every})")
    return "=" + "+".join(terms)


def _range_name(sheet: str, column: str, number: int) -> str:
    return f"{sheet}_{column}" + (f"_{number}" if number > 1 else "")


def _plain(text: str) -> str:
    return clean(text, Notes(), "")


def _header_text(text: str) -> str:
    return _plain(text)[:100].replace("&", "&&")  # a header holds 255 characters


def _lines(value: object, width: int) -> int:
    """How many lines a text takes in a column; a number or a day takes one."""
    if value.__class__ is not str or len(value) <= width:
        return 1
    return len(wrap(value, max(width - 1, 4)))


def _wrapping(book: _Book, sheet, columns: Sequence[Column], positions: Sequence[int], write):
    """Return write(row number, row) for a list that is read row by row: long text wraps."""
    long = [
        (place, column.width)
        for place, column in zip(positions, columns, strict=True)
        if column.width >= WRAPS_FROM
    ]
    places, widths = [place for place, _ in long], [width for _, width in long]

    def write_wrapped(at: int, row: tuple) -> None:
        book.height(sheet, at, [row[place] for place in places], widths)
        write(at, row)

    return write_wrapped


_PLAIN = {"font_name": "Arial", "font_size": 10, "valign": "top"}


def _formats(book, date_format: str) -> dict:
    plain = _PLAIN
    book.formats[0].set_font_name("Arial")
    book.formats[0].set_font_size(10)
    book.formats[0].set_align("top")
    heading = {"bold": True, "bottom": 1, "bg_color": "#E7EDE9", "text_wrap": True}
    return {
        "heading": book.add_format(plain | heading | {"valign": "top"}),
        "title": book.add_format(plain | {"bold": True, "font_size": 14}),
        "wrapped": book.add_format(plain | {"text_wrap": True, "valign": "top"}),
        "int": book.add_format(plain | {"num_format": "#,##0", "align": "right"}),
        "date": book.add_format(plain | {"num_format": date_format, "align": "left"}),
    }


def _line_writer(book: _Book, sheet: LineSheet, columns: Sequence[Column], positions):
    """Return write(row number, row) for the list of a million rows: each row is one text."""
    day = sheet.days(book.formats["date"])
    plan = [
        (
            xl_col_to_name(col),
            place,
            _texts(book, sheet.get_name(), column)
            if column.kind == "text"
            else day
            if column.kind == "date"
            else number_tail,
        )
        for col, (place, column) in enumerate(zip(positions, columns, strict=True))
    ]
    return line_writer(sheet, plan)


def _texts(book: _Book, name: str, column: Column):
    """Return what gives the tail of a column's text; equal texts are made once."""
    words, notes, heading = book.layout.words(column), book.notes, column.heading
    known: dict[str, str] = {}

    def tail(value: str, number: int) -> str:
        found = known.get(value)
        if found is None:
            said = _word(words, value, f"{name} row {number}") if words else value
            if not said.isprintable() or len(said) > CELL_LENGTH_MAX:
                return text_tail(clean(said, notes, f"{name} row {number}, {heading}"))
            if len(known) >= MOST_KEPT:
                known.clear()
            found = known[value] = text_tail(said)
        return found

    return tail


def _row_writer(book: _Book, sheet, columns: Sequence[Column], positions: Sequence[int]):
    """Return write(row number, row): a hot loop, so it binds all it needs beforehand."""
    string, number, day = sheet.write_string, sheet.write_number, sheet.write_datetime
    day_format, notes, name = book.formats["date"], book.notes, sheet.get_name()
    wrapped = book.formats["wrapped"]
    plan = tuple(
        (
            col,
            place,
            column.kind,
            book.layout.words(column),
            wrapped if column.width >= WRAPS_FROM else None,
        )
        for col, (place, column) in enumerate(zip(positions, columns, strict=True))
    )

    def write(at: int, row: tuple) -> None:
        for col, place, kind, words, form in plan:
            value = row[place]
            if value is None or value == "":
                continue
            if kind == "text":
                if words:
                    value = _word(words, value, f"{name} row {at + 1}")
                if not value.isprintable() or len(value) > CELL_LENGTH_MAX:
                    where = f"{name} row {at + 1}, {columns[col].heading}"
                    value = clean(value, notes, where)
                string(at, col, value, form)
            elif kind == "date":
                day(at, col, value, day_format)
            elif kind == "figure":
                book.figure(sheet, at, col, value, form)
            else:
                number(at, col, value)

    return write


def _word(words, code: str, where: str) -> str:
    try:
        return words[code]
    except KeyError:
        raise LayoutError(f"{where}: the layout has no word for the code {code!r}.") from None
