"""How the text of a log is laid out: separator, header, line of units, first row, decimal sign."""

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from replacements.domain.units import unit_named

from .cells import DECIMAL_COMMA, GROUPED, looks_clock, looks_iso, number_and_unit
from .columns import names_a_quantity
from .log import ROLES, PullLogError

_SEPARATORS = (";", "\t", "|", ",")
_LOOK_AT = 200
_MAX_COLUMNS = 500


@dataclass(frozen=True)
class Layout:
    """Where the parts of the text stand; lines are counted from 0."""

    separator: str
    header: tuple[str, ...]
    unit_row: tuple[str, ...] | None
    first_line: int
    offset: int
    decimal_comma: bool
    sample: tuple[tuple[str, ...], ...]


def layout_of(text: str, told: Mapping[str, object] | None = None) -> Layout:
    """Find the separator, the header and the first row of data.

    Raises
    ------
    PullLogError: there are no columns, no rows of numbers, or no header and no columns told.
    """
    lines = list(islice(_lines(text), _LOOK_AT))
    separator = _separator(lines)
    rows = [split(line, separator) for line in lines]
    data = [_is_data(row) for row in rows]
    header, unit_row, first = _header(rows, _first_data(rows, data), told or {})
    sample = tuple(tuple(rows[at]) for at in range(first, len(rows)) if data[at])
    _refuse_torn_decimals(separator, header, sample, first)
    offset = sum(len(line) + 1 for line in lines[:first])
    comma = separator != "," and _decimal_comma(_spread_cells(text, offset, separator))
    return Layout(separator, header, unit_row, first, offset, comma, sample)


def split(line: str, separator: str) -> list[str]:
    """Return the cells of one line."""
    try:
        return next(csv.reader([line.replace("\0", "")], delimiter=separator), [])
    except csv.Error as error:
        raise PullLogError(f"A line cannot be split into cells: {error}.") from error


def _lines(text: str):
    start = 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        yield text[start:end]
        start = end + 1


def _separator(lines: Sequence[str]) -> str:
    full = [line for line in lines if line.strip()]
    if not full:
        raise PullLogError(f"The first {len(lines)} lines of the file are empty.")
    scores = {}
    for separator in _SEPARATORS:
        if not any(separator in line for line in full):
            continue
        widths = Counter(len(split(line, separator)) for line in full)
        width, lines_with = max(widths.items(), key=lambda item: item[1] if item[0] > 1 else 0)
        if 1 < width <= _MAX_COLUMNS:
            scores[separator] = lines_with
    if not scores:
        raise PullLogError(
            "The file has no columns: no comma, semicolon or tab divides its lines. "
            "Export the log as CSV."
        )
    best = max(scores.values())
    # A comma may be a decimal sign, so it is the last to be believed.
    return next(s for s in _SEPARATORS if scores.get(s, 0) >= 0.6 * best)


def _is_value(cell: str) -> bool:
    cell = cell.strip()
    if looks_clock(cell) or looks_iso(cell):
        return True
    return any(number_and_unit(cell, comma)[0] is not None for comma in (False, True))


def _is_data(row: Sequence[str]) -> bool:
    values = sum(1 for cell in row if _is_value(cell))
    return values >= 2 and values >= 0.5 * sum(1 for cell in row if cell.strip())


def _first_data(rows: Sequence[Sequence[str]], data: Sequence[bool]) -> int:
    """Return the first row of data that another of the next three filled rows follows."""
    for index, here in enumerate(data):
        if not here:
            continue
        filled = (j for j in range(index + 1, len(rows)) if any(c.strip() for c in rows[j]))
        after = [data[j] for j in islice(filled, 3)]
        if not after or any(after):
            return index
    raise PullLogError(
        f"No row of numbers stands in the first {len(rows)} lines. A log needs a header line "
        "and below it rows with time, pressure or force, and distance."
    )


def _header(
    rows: Sequence[Sequence[str]], first: int, told: Mapping[str, object]
) -> tuple[tuple[str, ...], tuple[str, ...] | None, int]:
    """Return the header, the line of units if there is one, and the line after both."""
    above = [i for i in range(first) if _filled(rows[i]) > 1 and not _is_data(rows[i])]
    if not above:
        if set(told) < set(ROLES):
            raise PullLogError(
                "The file has no header line: its first line holds numbers. Add a line such as "
                "'Time (s),Pressure (psi),Distance (ft)', or say which column is which."
            )
        return tuple(f"column {i + 1}" for i in range(len(rows[first]))), None, first
    at = _header_line(rows, above)
    width = max(len(rows[first]), len(rows[at]))
    header = _widened(rows[at], width)
    below = next((i for i in range(at + 1, first) if _filled(rows[i])), None)
    if below is not None and _names_units(rows[below]):
        return header, _widened(rows[below], width), below + 1
    return header, None, at + 1


def _header_line(rows: Sequence[Sequence[str]], above: Sequence[int]) -> int:
    """Choose the line that names most quantities; what stands below it is data, if damaged."""
    names = {i: sum(names_a_quantity(cell) for cell in rows[i]) for i in above}
    best = max(names.values())
    if best > 1:
        return max(i for i in above if names[i] == best)
    plain = [i for i in above if not _names_units(rows[i])]
    return (plain or above)[-1]


def _widened(row: Sequence[str], width: int) -> tuple[str, ...]:
    return tuple(row) + ("",) * (width - len(row))


def _filled(row: Sequence[str]) -> int:
    return sum(1 for cell in row if cell.strip())


def _names_units(row: Sequence[str]) -> bool:
    known = sum(1 for cell in row if cell.strip() and (unit_named(cell) or ":" in cell))
    return known > 1 and known >= 0.5 * _filled(row)


def _refuse_torn_decimals(
    separator: str, header: Sequence[str], sample: Sequence[Sequence[str]], first: int
) -> None:
    names = len([text for text in header if text.strip()])
    widths = [len([cell for cell in row if cell.strip()]) for row in sample]
    wider = [width for width in widths if width > names]
    if separator == "," and len(wider) > 0.5 * len(widths):
        raise PullLogError(
            f"Row {first + 1} has {wider[0]} values under {names} headers. If the logger writes "
            "a decimal comma, export with semicolons; otherwise complete the header line."
        )


def _spread_cells(text: str, offset: int, separator: str) -> list[str]:
    body = text[offset : offset + 60_000] + "\n" + text[-20_000:]
    return [cell.strip() for line in body.split("\n")[:4000] for cell in line.split(separator)]


def _decimal_comma(cells: Sequence[str]) -> bool:
    numbers = [cell.split(" ")[0] for cell in cells if "," in cell]
    with_comma = [cell for cell in numbers if DECIMAL_COMMA.fullmatch(cell)]
    if not with_comma:
        return False
    if any(not GROUPED.fullmatch(cell) for cell in with_comma):
        return True
    if any("." in cell and number_and_unit(cell)[0] is not None for cell in cells):
        return False
    raise PullLogError(
        f"{with_comma[0]!r} can be read as a decimal number or as thousands. Export the log with "
        "a decimal point and no thousands sign."
    )
