"""Paving and main works from a file: lines or areas, each with its years."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from program.planning.shapes_reading import Shape, shapes_of
from services_inventory.apart import apart
from services_inventory.intake.reading.table import UnreadableFile

MOST_WORKS = 5_000
NAME_FIELDS = ("name", "project", "street", "title", "id", "label")
YEAR_FIELDS = ("year", "paving_year", "work_year", "calendar_year", "const_year", "start_year")
START_FIELDS = ("start", "starts", "first_day", "start_date", "begin", "from")
END_FIELDS = ("end", "ends", "last_day", "end_date", "finish", "to")
STREET_FIELDS = ("street", "street_name", "road", "name")
FROM_FIELDS = ("from_street", "from_number", "from_house", "begin_at", "between")
TO_FIELDS = ("to_street", "to_number", "to_house", "end_at", "and")


@dataclass(frozen=True)
class Work:
    """One stretch of planned work, as WKT in longitude and latitude, with its days."""

    name: str
    first: date
    last: date
    wkt: str


@dataclass(frozen=True)
class Stretch:
    """A closed part of a street as a file gives it; `wkt` is empty where it gives none.

    row : the row in the file, counted from 1
    """

    row: int
    street: str
    start: str
    end: str
    side: str
    first: date
    last: date
    reason: str
    wkt: str


def read_closures(path: Path) -> list[Stretch]:
    """Read the closed block faces of a file, in a process of its own.

    Raises
    ------
    UnreadableFile: as `read_works`, but for rows of a CSV file, which need no line.
    """
    return apart(UnreadableFile, _closures, Path(path).resolve())


def _closures(path: Path) -> list[Stretch]:
    rows = shapes_of(path, word="row", names=STREET_FIELDS, most=MOST_WORKS, shape_needed=False)
    return [_stretch(number, row) for number, row in enumerate(rows, start=1)]


def _stretch(number: int, row: Shape) -> Stretch:
    street = _plain(row.first(STREET_FIELDS))
    if not street:
        raise UnreadableFile(f"{row.said} names no street. Give a column street, such as Brine St.")
    start, end = _plain(row.first(FROM_FIELDS)), _plain(row.first(TO_FIELDS))
    side = _plain(row.first(("side",))).upper() or "BOTH"
    reason, wkt = _plain(row.first(("reason", "why", "note"))), row.wkt if row.shape else ""
    return Stretch(number, street[:120], start, end, side, *_days(row), reason, wkt)


def _plain(value) -> str:
    """A cell as text; a house number that a table keeps as 101.0 is 101."""
    whole = isinstance(value, float) and value.is_integer()
    text = "" if value is None else str(int(value) if whole else value)
    return " ".join(text.replace("\0", "").split())


def read_works(path: Path) -> list[Work]:
    """Read the works of a file, in a process of its own.

    Raises
    ------
    UnreadableFile: the file is none of the kinds, has no year for a work, or a work without a
        line or an area; the message says which, and what to do.
    """
    return apart(UnreadableFile, _works, Path(path).resolve())


def _works(path: Path) -> list[Work]:
    rows = shapes_of(path, word="work", names=NAME_FIELDS, most=MOST_WORKS)
    return [Work(row.name, *_days(row), row.wkt) for row in rows]


def _days(row: Shape) -> tuple[date, date]:
    """The first and last day: from two dates, or a calendar year."""
    first, last = _day(row.first(START_FIELDS)), _day(row.first(END_FIELDS))
    if first is None:
        year = _year(row.first(YEAR_FIELDS))
        if year is None:
            raise UnreadableFile(
                f"{row.said} has no year. Give a column year (such as 2032), or start and end "
                "(such as 2032-05-01)."
            )
        return date(year, 1, 1), date(year, 12, 31)
    last = last or first
    if last < first:
        raise UnreadableFile(f"{row.said} ends ({last}) before it starts ({first}).")
    return first, last


def _day(value) -> date | None:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date) or value is None:
        return value
    try:
        return date.fromisoformat(str(value).strip()[:10])
    except ValueError:
        return None


def _year(value) -> int | None:
    try:
        year = int(float(value))
    except (TypeError, ValueError):
        return None
    return year if 1990 <= year <= 2199 else None
