"""From the text of a log to three arrays of numbers: a fast way for clean files, a careful one.

The fast way hands the text to numpy, which reads a million plain rows in a fraction of a second.
Anything it stumbles over sends the file the careful way, block by block and there row by row, where
each row that cannot be used is set aside with its reason and its place.
"""

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from replacements.domain.units import ASKED, FACTORS, QUANTITY_OF

from .cells import clock_seconds, number_and_unit, timestamp_seconds
from .layout import Layout
from .log import ROLES, CleaningNote, Column, PullLogError, rows_counted

if TYPE_CHECKING:
    import numpy as np

_TIME_TEXT = "U40"
_BLOCK = 250


@dataclass
class RawValues:
    """Numbers as the file has them, in the file's units, with the line each stands on."""

    time: "np.ndarray"
    force: "np.ndarray"
    distance: "np.ndarray"
    row: "np.ndarray"
    raw_count: int
    notes: list[CleaningNote] = field(default_factory=list)


def raw_values(text: str, layout: Layout, columns: Mapping[str, Column]) -> RawValues:
    """Read the three columns.

    Raises
    ------
    PullLogError: a cell names another unit than its column.
    """
    return _fast(text, layout, columns) or _careful(text, layout, columns)


def _fast(text: str, layout: Layout, columns: Mapping[str, Column]) -> RawValues | None:
    import numpy as np

    body = text[layout.offset :]
    count = body.rstrip("\n").count("\n") + 1
    numeric = columns["time"].unit in FACTORS["TIME"]
    table = _loaded(body, count, layout, columns, float if numeric else _TIME_TEXT)
    if table is None:
        return None
    time = table["time"] if numeric else _clock_array(table["time"], columns["time"])
    if time is None or not np.isfinite(time).all():
        return None
    rows = np.arange(count) + layout.first_line + 1
    return RawValues(time, table["force"].copy(), table["distance"].copy(), rows, count)


def _loaded(
    body: str, count: int, layout: Layout, columns: Mapping[str, Column], time_type: object
) -> "np.ndarray | None":
    """Return the rows as numpy reads them, None unless each line is a row of plain numbers."""
    import numpy as np

    if "\0" in body or (layout.decimal_comma and "." in body):
        return None
    if layout.decimal_comma:
        body = body.replace(",", ".")
    try:
        table = np.loadtxt(
            io.StringIO(body),
            dtype=[("time", time_type), ("force", float), ("distance", float)],
            delimiter=layout.separator,
            usecols=[columns[role].index for role in ROLES],
            comments=None,
            quotechar='"',
            ndmin=1,
        )
    except (ValueError, OverflowError):
        return None
    # numpy passes over blank lines, and row numbers must stay true.
    whole = len(table) == count and np.isfinite(table["force"]).all()
    return table if whole and np.isfinite(table["distance"]).all() else None


def _clock_array(cells: "np.ndarray", column: Column) -> "np.ndarray | None":
    """Return seconds for plain timestamps or clock times of one form; None for the careful way."""
    import numpy as np

    letters = np.ascontiguousarray(cells).view(np.uint32).reshape(len(cells), -1)
    is_clock = column.unit == "CLOCK"
    # Blanks, and a sign behind the date (an offset from UTC), are for the careful way.
    behind = letters[:, 0 if is_clock else 10 :]
    if (letters[:, 0] == ord(" ")).any() or np.isin(behind, (ord("-"), ord("+"))).any():
        return None
    if is_clock:
        if (letters[:, 2] != ord(":")).any() or (letters[:, 7] == 0).any():
            return None
        cells = np.char.add("1970-01-01T", cells)
    elif (letters == ord("Z")).any(axis=1).all():
        cells = np.char.rstrip(cells, "Z")
    try:
        moments = cells.astype("datetime64[us]")
    except ValueError:
        return None
    if np.isnat(moments).any() or (not is_clock and (letters[:, 15] == 0).any()):
        return None
    return moments.astype("int64") / 1e6


def _careful(text: str, layout: Layout, columns: Mapping[str, Column]) -> RawValues:
    import numpy as np

    reader = _CarefulReader(layout, columns)
    lines = text[layout.offset :].split("\n")
    numeric = columns["time"].unit in FACTORS["TIME"]
    for start in range(0, len(lines), _BLOCK):
        block = lines[start : start + _BLOCK]
        number = layout.first_line + 1 + start
        table = None
        if numeric and all(block):
            table = _loaded("\n".join(block), len(block), layout, columns, float)
        if table is not None and np.isfinite(table["time"]).all():
            reader.take_whole(number, table)
            continue
        for offset, line in enumerate(block):
            if line.strip():
                reader.take(number + offset, line)
    time, force, distance, rows = reader.kept
    return RawValues(
        np.array(time, dtype=float),
        np.array(force, dtype=float),
        np.array(distance, dtype=float),
        np.array(rows, dtype=int),
        reader.count,
        reader.notes(),
    )


class _CarefulReader:
    """Takes lines one by one; keeps those with three numbers, sets the others aside."""

    _SENTENCES = {
        "DAMAGED": "with NUL bytes, as after a loss of power",
        "HEADER_REPEATED": "repeating the header",
        "WRONG_WIDTH": "with too few values",
        "EMPTY_CELL": "with an empty cell where a value should be",
        "NOT_A_NUMBER": "with something other than a number",
    }

    def __init__(self, layout: Layout, columns: Mapping[str, Column]):
        self.layout = layout
        self.columns = [columns[role] for role in ROLES]
        self.last = max(column.index for column in self.columns)
        self.count = 0
        self.kept: tuple[list, list, list, list] = ([], [], [], [])
        self.aside: dict[str, list[int]] = {}

    def take(self, number: int, line: str) -> None:
        self.count += 1
        values = self._values(number, line)
        if isinstance(values, str):
            self.aside.setdefault(values, []).append(number)
            return
        for kept, value in zip(self.kept, (*values, number), strict=True):
            kept.append(value)

    def take_whole(self, number: int, table: "np.ndarray") -> None:
        """Take a block of lines that numpy could read, the first of them at a line's number."""
        self.count += len(table)
        for kept, role in zip(self.kept, ROLES, strict=False):
            kept.extend(table[role].tolist())
        self.kept[-1].extend(range(number, number + len(table)))

    def notes(self) -> list[CleaningNote]:
        """One note for each reason that rows were set aside for."""
        return [
            CleaningNote(
                kind,
                len(rows),
                f"{rows_counted(len(rows))} {self._SENTENCES[kind]}: set aside.",
                rows[0],
            )
            for kind, rows in self.aside.items()
        ]

    def _values(self, number: int, line: str) -> list[float] | str:
        if "\0" in line:
            return "DAMAGED"
        try:
            cells = next(csv.reader([line], delimiter=self.layout.separator), [])
        except csv.Error:
            return "NOT_A_NUMBER"
        if len(cells) <= self.last:
            return "WRONG_WIDTH"
        texts = [cells[column.index].strip() for column in self.columns]
        if texts == [column.header for column in self.columns]:
            return "HEADER_REPEATED"
        if not all(texts):
            return "EMPTY_CELL"
        values = [
            self._number(number, text, column)
            for text, column in zip(texts, self.columns, strict=True)
        ]
        known = [value for value in values if value is not None and math.isfinite(value)]
        return known if len(known) == len(values) else "NOT_A_NUMBER"

    def _number(self, number: int, text: str, column: Column) -> float | None:
        if column.unit == "ISO":
            return timestamp_seconds(text)
        if column.unit == "CLOCK":
            return clock_seconds(text)
        value, unit = number_and_unit(text, self.layout.decimal_comma)
        if unit and unit != column.unit and column.unit not in ASKED.get(unit, ()):
            self._refuse_unit(number, text, column, unit)
        return value

    def _refuse_unit(self, number: int, text: str, column: Column, unit: str) -> None:
        known = QUANTITY_OF[unit]
        raise PullLogError(
            f"Row {number}: {text!r} is {'in ' + unit if known else unit}, but the column "
            f"{column.header!r} is read as {column.unit}. One column, one unit: export again, or "
            "say which unit the column has."
        )
