"""Reading a filled form: the rows with what stands in each column, and where."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time

from services_inventory.apart import apart
from services_inventory.intake.reading import UnusableCell
from services_inventory.intake.reading.table import column_letters

from ..forms.fields import code_said
from .archive import Drop, DropRefused
from .columns import LOCKED, ORDER, REASONS, YES, Cell, Column, by_heading, columns, heading_key
from .form_file import MAX_ROWS, lines_of_form

_HEAD_WITHIN = 10
_YES = frozenset({"yes", "y", "x", "true", "1", "ja", "si", "sí"})
_NO = frozenset({"no", "n", "false", "0", "-"})


@dataclass
class FormRow:
    """One filled row: its number in the sheet, raw values by column, sentences by column."""

    number: int
    raw: dict[str, object]
    given: dict[str, str] = field(default_factory=dict)
    faults: list[tuple[str, str]] = field(default_factory=list)

    @property
    def order_number(self) -> str:
        return self.given.get(ORDER, "").upper()

    def refuse(self, column: str, sentence: str) -> None:
        """Note what is wrong with a column."""
        self.faults.append((column, sentence))


@dataclass
class FilledForm:
    """The rows that somebody filled in, and the letters of the columns in that sheet."""

    rows: list[FormRow]
    letters: Mapping[str, str]
    blank: int = 0
    locked: list[FormRow] = field(default_factory=list)

    def cell(self, row: FormRow, column: str) -> str:
        """Return the address of a cell, such as F7; the row's number where it has no column."""
        return f"{self.letters.get(column, '')}{row.number}"


def form_in(drop: Drop) -> FilledForm:
    """Find the one workbook in a drop and read it.

    Raises
    ------
    DropRefused: there is none or more than one, or it is not the record form.
    """
    found = [key for key in drop.names if key.endswith((".xlsx", ".xlsm"))]
    if not found:
        raise DropRefused("There is no record form (.xlsx) in the drop. Add the filled form.")
    if len(found) > 1:
        names = ", ".join(drop.names[key] for key in sorted(found)[:4])
        raise DropRefused(f"There is more than one workbook ({names}). Send one form at a time.")
    content = drop.read(found[0])
    if content is None:
        raise DropRefused(f"{drop.names[found[0]]} is too large to be a record form.")
    return read_form(content, drop.names[found[0]])


def read_form(content: bytes, name: str) -> FilledForm:
    """Return the filled rows of a record form.

    Raises
    ------
    DropRefused: it cannot be opened, has not the form's headings, or has too many rows.
    """
    lines = apart(DropRefused, lines_of_form, content, name)
    head = _head(lines, name)
    places = {place: by_heading()[key] for place, key in enumerate(map(heading_key, lines[head]))
              if key in by_heading()}  # fmt: skip
    filled = FilledForm(
        [], {column.name: column_letters(place) for place, column in places.items()}
    )
    for number, line in enumerate(lines[head + 1 :], start=head + 2):
        _take(filled, number, {c.name: line[p] for p, c in places.items() if p < len(line)})
    if len(filled.rows) > MAX_ROWS:
        raise DropRefused(f"{name} has more than {MAX_ROWS:,} filled rows. Send it in parts.")
    return filled


def _head(lines: list, name: str) -> int:
    for place, line in enumerate(lines[:_HEAD_WITHIN]):
        keys = {heading_key(value) for value in line}
        if {"work order", "outcome"} <= keys:
            return place
    raise DropRefused(
        f"{name} has no line with the headings of the record form (Work order, Outcome, …). "
        "Download the form again and fill that one."
    )


def _take(filled: FilledForm, number: int, raw: dict[str, object]) -> None:
    row = FormRow(number, {name: value for name, value in raw.items() if value not in ("", None)})
    said = [c for c in columns() if c.cell not in (Cell.GIVEN, Cell.REASONS) and c.name in row.raw]
    if not said:
        filled.blank += bool(row.raw.get(ORDER))
        return
    if str(row.raw.get(REASONS, "")).startswith(LOCKED):
        filled.locked.append(row)
        return
    for column in columns():
        if column.name in row.raw and column.name != REASONS:
            row.given[column.name] = _text(row, column, row.raw[column.name])
    filled.rows.append(row)


def _text(row: FormRow, column: Column, value) -> str:
    """Return a cell as the page's form would have sent it; note what cannot be."""
    if isinstance(value, UnusableCell):
        row.refuse(column.name, f"The cell can't be read: {value.why}.")
        return ""
    if isinstance(value, datetime):
        value = value.date() if column.cell is Cell.DAY or value.time() == time() else value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    text = str(value).strip()[:4000]
    if column.cell is Cell.TICK:
        return _ticked(row, column, text)
    if column.cell is Cell.CHOICE:
        return _chosen(row, column, text)
    return text.replace("\x00", "")


def _ticked(row: FormRow, column: Column, text: str) -> str:
    if text.lower() in _YES:
        return "on"
    if text.lower() not in _NO:
        row.refuse(column.name, f"Write {YES} or leave it empty; {text[:40]!r} is neither.")
    return ""


def _chosen(row: FormRow, column: Column, text: str) -> str:
    if code := code_said(text, column.choices):
        return code
    some = ", ".join(column.shown_choices[:8])
    row.refuse(column.name, f"{text[:40]!r} is not in the list; choose one of: {some}.")
    return ""
