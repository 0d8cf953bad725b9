"""The record form: a workbook with a row for each order, filled as far as the office knows.

The same writer makes the form that goes out and the one that returns with reasons.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from services_inventory.kept_files import local_path
from services_inventory.models import Batch

from ..completion.archive import Drop, DropRefused
from ..completion.columns import LOCKED, REASONS, Cell, Column, columns
from ..completion.form_file import SHEET
from ..completion.reading import form_in
from ..models import WorkOrder
from .given import given_of

_HEAD_ROW = 2
_WIDTHS = {Cell.GIVEN: 16, Cell.CHOICE: 20, Cell.FILE: 26, Cell.REASONS: 70, Cell.DAY: 13}
_HOW_TO = (
    "One row for each work order. Fill only the rows of work that is done; leave the others.",
    "Gray columns are filled already; do not change them. Days as 2030-06-14. Ticks: yes or empty.",
    "Units stand in the headings. A figure that was not measured stays empty.",
    "Files: write the file's name, or name the file so that it begins with the work order's "
    "number, such as W-000012_old_pipe.jpg, W-000012_lead_removed.jpg, W-000012_new_at_main.jpg, "
    "W-000012_new_at_house.jpg, W-000012_restored.jpg, W-000012_pull.csv.",
    "Drop the form, the logs and the photos together, or one zip of all of them. Rows that cannot "
    "be taken come back as this form with the reasons; sending again doubles nothing.",
    "A record that lacks a test, a flush or a photo that the utility asks for comes back, unless "
    "the note says why it may stand.",
    "No water to the house until the line is flushed and the household has notice, flushing "
    "instructions and filter. Local codes and licensed practice come before this form.",
)


@dataclass
class FormLine:
    """One row of the form: values by column, sentences by column, the reasons."""

    values: Mapping[str, object]
    faults: Mapping[str, str] = field(default_factory=dict)
    reasons: str = ""
    locked: bool = False


def form_of_orders(orders: Iterable[WorkOrder], title: str) -> bytes:
    """Return the form for orders, to be filled in."""
    return record_form([FormLine(given_of(order)) for order in orders], title)


def form_returned(batch: Batch) -> bytes:
    """Return a drop's form: the rows to be mended with their reasons, then those that are in.

    What is in is locked, so that nobody types it again or changes it by a slip.
    """
    names = [column.name for column in columns()]
    verdicts = {row["row"]: row for row in batch.result.get("rows", ())}
    lines = []
    for held in batch.held_rows.order_by("row_number"):
        told = verdicts.get(held.row_number, {})
        sentences = held.reason.split("\n")
        faults: dict[str, str] = {}
        for column, sentence in zip(told.get("cells", ()), sentences, strict=False):
            faults[column] = f"{faults[column]} {sentence}" if column in faults else sentence
        values = dict(zip(names, held.cells, strict=False))
        lines.append(FormLine(values, faults, "\n".join(sentences)))
    return record_form(lines + _taken(batch, verdicts), f"Returned from drop {batch.pk}")


def _taken(batch: Batch, verdicts: Mapping[int, dict]) -> list[FormLine]:
    """Return the rows of a drop's form that went in, now or before; none where it is gone."""
    try:
        with Drop(local_path(batch.file)) as drop:
            filled = form_in(drop)
    except (DropRefused, OSError):
        return []
    held = {number for number, told in verdicts.items() if told["verdict"] == "FIX"}
    said = f"{LOCKED}. Nothing is to be done here; a change goes by the order's page."
    rows = [row for row in filled.rows if row.number in verdicts and row.number not in held]
    return [
        FormLine({n: _plain(v) for n, v in row.raw.items()}, reasons=said, locked=True)
        for row in (*rows, *filled.locked)
    ]


def _plain(value):
    return value if isinstance(value, int | float | str | date) else str(value)


def record_form(lines: list[FormLine], title: str) -> bytes:
    """Return a workbook with a sheet of records, its lists, and how to fill it."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(SHEET)
    _lay_out(sheet, len(lines))
    sheet.append([_head(sheet, title, bold=True)])
    sheet.append([_head(sheet, column.heading, column=column) for column in columns()])
    for line in lines:
        sheet.append([_cell(sheet, column, line) for column in columns()])
    if any(line.locked for line in lines):
        sheet.protection.sheet = True
        sheet.protection.formatColumns = sheet.protection.formatRows = False
    _lists(book)
    _how_to(book)
    buffer = BytesIO()
    book.save(buffer)
    return buffer.getvalue()


_LINE = Side(style="thin", color="B5B0A2")
_BORDER = Border(bottom=_LINE)
_GIVEN = PatternFill("solid", fgColor="ECE9DF")
_FAULT = PatternFill("solid", fgColor="F7DFE1")
_HEADS = {
    "Order": "DCD8CA",
    "Outcome": "DCECEA",
    "Pull": "F3E6C8",
    "Photos": "E4DCEC",
    "Answer": "F7DFE1",
}


def _lay_out(sheet, rows: int) -> None:
    sheet.freeze_panes = f"C{_HEAD_ROW + 1}"
    sheet.row_dimensions[_HEAD_ROW].height = 48
    last = _HEAD_ROW + max(rows, 1)
    for place, column in enumerate(columns(), start=1):
        letter = get_column_letter(place)
        width = 26 if column.name == "address" else _WIDTHS.get(column.cell, 14)
        sheet.column_dimensions[letter].width = width
        rule = _validation(place, column)
        if rule is not None:
            rule.add(f"{letter}{_HEAD_ROW + 1}:{letter}{last}")
            sheet.data_validations.append(rule)


def _validation(place: int, column: Column) -> DataValidation | None:
    if column.shown_choices:
        letter = get_column_letter(place)
        rule = DataValidation(
            type="list",
            formula1=f"Lists!${letter}$2:${letter}${len(column.shown_choices) + 1}",
            allow_blank=True,
        )
        rule.error = "Choose one of the list, or leave the cell empty."
    elif column.cell is Cell.DAY:
        rule = DataValidation(
            type="date", operator="greaterThan", formula1="DATE(2020,1,1)", allow_blank=True
        )
        rule.error = "Write a day such as 2030-06-14."
    else:
        return None
    rule.errorTitle = column.heading[:30]
    rule.showErrorMessage = True
    return rule


def _head(sheet, text: str, bold: bool = True, column: Column | None = None):
    cell = WriteOnlyCell(sheet, text)
    cell.font = Font(bold=bold, size=11 if column else 14)
    if column is not None:
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.fill = PatternFill("solid", fgColor=_HEADS.get(column.group, "E9F0EA"))
        cell.border = Border(bottom=Side(style="medium", color="56636B"))
    return cell


def _cell(sheet, column: Column, line: FormLine):
    value = line.reasons if column.name == REASONS else line.values.get(column.name)
    if column.cell is Cell.DAY and isinstance(value, str):
        value = _day(value)
    cell = WriteOnlyCell(sheet, None)
    cell.value = value
    if isinstance(value, str):
        # What somebody wrote is text, whatever sign it begins with.
        cell.data_type = "s"
    cell.border = _BORDER
    if column.cell is Cell.DAY:
        cell.number_format = "yyyy-mm-dd"
    cell.protection = Protection(locked=line.locked)
    if column.cell is Cell.GIVEN or line.locked:
        cell.fill = _GIVEN
    if column.cell is Cell.REASONS:
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    if column.name in line.faults:
        cell.fill = _FAULT
        cell.comment = Comment(line.faults[column.name][:500], "review")
    return cell


def _day(text: str):
    try:
        return date.fromisoformat(text)
    except ValueError:
        return text


def _lists(book: Workbook) -> None:
    sheet = book.create_sheet("Lists")
    sheet.sheet_state = "hidden"
    chosen = [column.shown_choices for column in columns()]
    sheet.append([column.heading if column.shown_choices else None for column in columns()])
    for place in range(max(map(len, chosen))):
        sheet.append([words[place] if place < len(words) else None for words in chosen])


def _how_to(book: Workbook) -> None:
    sheet = book.create_sheet("How to fill it")
    sheet.column_dimensions["A"].width = 110
    for sentence in _HOW_TO:
        cell = WriteOnlyCell(sheet, sentence)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        sheet.append([cell])
