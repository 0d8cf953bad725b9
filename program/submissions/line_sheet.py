"""The longest sheet of a workbook, written row by row, each as one text.

The library that writes the workbook makes an object of every cell; of 28 million that is most of
what a submission costs. This is its own worksheet with one method more, which takes the cells of
a whole row; a test holds both ways to the same bytes.
"""

import re
from collections.abc import Callable, Sequence
from typing import Any

from xlsxwriter.worksheet import Worksheet

MOST_KEPT = 50_000  # texts kept as they are written, so that memory stays flat
_ESCAPE = re.compile(r"(_x[0-9a-fA-F]{4}_)")  # ISO/IEC 29500-1, 22.9.2.19
_EDGES = re.compile(r"^\s|\s$")

Plan = Sequence[tuple[str, int, Callable[[Any, int], str]]]


class LineSheet(Worksheet):
    """A worksheet that also takes the cells of whole rows, in order, as text."""

    def headings_end(self) -> None:
        """Write out the first row, which was written cell by cell."""
        self._write_single_row(1)

    def write_cells(self, row: int, cells: str) -> None:
        """Write the cells of the row (from 0) that comes next."""
        self.previous_row = self.dim_rowmax = row
        self.fh.write(f'<row r="{row + 1}">{cells}</row>')

    def days(self, style) -> Callable[[Any, int], str]:
        """Return what gives the tail of a cell that holds a day in a format."""
        known: dict[Any, str] = {}

        def tail(day, _row: int) -> str:
            if day not in known:
                number = self._convert_date_time(day)
                known[day] = f' s="{style._get_xf_index()}"><v>{number:.16G}</v></c>'
            return known[day]

        return tail


def number_tail(value: float, _row: int) -> str:
    """Return the tail of a cell that holds a number."""
    return f"><v>{value:.16G}</v></c>"


def text_tail(text: str) -> str:
    """Return the tail of a cell that holds text, escaped as the format asks."""
    if "_x" in text:
        text = _ESCAPE.sub(r"_x005F\1", text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    keep = ' xml:space="preserve"' if _EDGES.search(text) else ""
    return f' t="inlineStr"><is><t{keep}>{text}</t></is></c>'


def line_writer(sheet: LineSheet, plan: Plan) -> Callable[[int, tuple], None]:
    """Return write(row from 0, values); of each column its letters, its place, what gives a tail.

    A tail is a cell from behind its address on.
    """
    sheet.headings_end()

    def write(at: int, row: tuple) -> None:
        number = at + 1
        cells = [
            f'<c r="{letters}{number}"{tail(value, number)}'
            for letters, place, tail in plan
            if (value := row[place]) is not None and value != ""
        ]
        sheet.write_cells(at, "".join(cells))

    return write
