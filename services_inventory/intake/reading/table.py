"""What every kind of file becomes: a header, and rows one after another."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from services_inventory.refused import Refused

MOST_COLUMNS = 500
LONGEST_HEADING = 200
NAMES_SHOWN = 5


@dataclass(frozen=True, slots=True)
class UnusableCell:
    """A cell whose value the file does not hold: why, and the formula or error in it."""

    why: str
    written: str = ""


Cell = str | int | float | date | UnusableCell | None
Row = tuple[int, list[Cell]]


class UnreadableFile(Refused):
    """The file can't be taken in; the message is a sentence fit to show."""


@dataclass(frozen=True)
class Table:
    """One table of an uploaded file.

    `rows()` starts anew at each call and yields the row's number as a spreadsheet counts it
    (the header is row 1 where nothing stands above it) with its cells as they are; rows with
    nothing in them are left out. A row may be longer or shorter than the header.
    """

    path: Path
    kind: str
    header: list[str]
    rows: Callable[[], Iterator[Row]]
    estimated_rows: int
    encoding: str = ""
    delimiter: str = ""
    sheet: str = ""
    layer: str = ""
    choices: list[str] = field(default_factory=list)
    sheets: list[tuple[str, int]] = field(default_factory=list)  # with their rows, 0: not known
    notes: list[str] = field(default_factory=list)


def checked_header(cells: list[Cell], where: str = "the first row") -> list[str]:
    """Headings as text; empty ones at the end are dropped, others named by their column.

    Raises `UnreadableFile` for no headings, too many, or the same heading twice.
    """
    headings = ["" if cell is None else " ".join(str(cell).split()) for cell in cells]
    while headings and not headings[-1]:
        headings.pop()
    if not headings:
        raise UnreadableFile(f"There are no headings in {where}. Put the column names there.")
    if len(headings) > MOST_COLUMNS:
        raise UnreadableFile(
            f"There are {len(headings):,} columns in {where}; at most {MOST_COLUMNS} are read. "
            "Check which character separates the columns, or export fewer columns."
        )
    headings = [heading or f"column {column_letters(at)}" for at, heading in enumerate(headings)]
    too_long = [heading for heading in headings if len(heading) > LONGEST_HEADING]
    if too_long:
        raise UnreadableFile(
            f"A heading in {where} is {len(too_long[0])} characters long and begins "
            f"{too_long[0][:40]!r}. Put the column names in the first row."
        )
    _refuse_duplicates(headings)
    return headings


def _refuse_duplicates(headings: list[str]) -> None:
    counts = Counter(heading.casefold() for heading in headings)
    twice = list(dict.fromkeys(h for h in headings if counts[h.casefold()] > 1))
    if twice:
        named = ", ".join(repr(name) for name in twice[:NAMES_SHOWN])
        more = f" and {len(twice) - NAMES_SHOWN} more" if len(twice) > NAMES_SHOWN else ""
        raise UnreadableFile(
            f"The heading {named}{more} stands over more than one column. "
            "Give every column its own heading, so that no value is taken from the wrong one."
        )


def column_letters(at: int) -> str:
    """A spreadsheet's name of the column at an index: 0 is A, 27 is AB."""
    letters = ""
    at += 1
    while at:
        at, left = divmod(at - 1, 26)
        letters = chr(65 + left) + letters
    return letters


def is_blank(cells: list[Cell]) -> bool:
    """Whether nothing is written in any cell of a row."""
    return not any(
        cell is not None and (not isinstance(cell, str) or cell.strip()) for cell in cells
    )
