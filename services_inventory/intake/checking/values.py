"""Reading one cell: text, codes, years, dates, sizes, counts.

Every reader takes a cell as the file holds it and returns a value, an empty one for an empty
cell, or `Bad` with a sentence.
"""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import NamedTuple

from services_inventory.domain.days import day_told
from services_inventory.domain.formulas import could_run
from services_inventory.domain.materials import EARLIEST_INSTALL_YEAR
from services_inventory.domain.words import Reading
from services_inventory.intake.checking.problems import Bad, shown
from services_inventory.intake.reading import UnusableCell

NOT_KNOWN = frozenset(
    (
        "",
        "unknown",
        "unk",
        "n/a",
        "na",
        "none",
        "null",
        "nan",
        "nil",
        "-",
        "--",
        "?",
        "tbd",
        "not known",
    )
)
SPREADSHEET_ERRORS = frozenset(
    ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#SPILL!", "#CALC!")
)
CUT_NUMBER = re.compile(r"\d(\.\d+)?E\+?\d+", re.IGNORECASE)
WHOLE = re.compile(r"\d{1,9}(?:\.0*)?")
EXCEL_DAY_ZERO = date(1899, 12, 30)
MOST_POINTS = 50
SMALLEST_DIAMETER_IN, LARGEST_DIAMETER_IN = 0.25, 48.0

ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?")
COMPACT = re.compile(r"((?:18|19|20)\d\d)(\d\d)(\d\d)")
NUMERIC = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})(?:[T ].*)?")
SHORT_YEAR = re.compile(r"\d{1,2}[-/.](?:\d{1,2}|[A-Za-z]{3})[-/.]\d{2}(?:[T ].*)?")
YEAR_MONTH = re.compile(r"(\d{4})-(\d{1,2})")
NAMED = re.compile(
    r"(?:(\d{1,2})[ -])?([A-Za-z]{3,9})\.?[ -](?:(\d{1,2})(?:st|nd|rd|th)?,? )?(\d{4})"
)
MONTHS = {
    name: number
    for number, name in enumerate(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), 1
    )
}
DIAMETER = re.compile(
    r"(?P<whole>\d+(?:\.\d+)?|\.\d+)?(?:[ -]*(?P<top>\d{1,2})/(?P<bottom>\d{1,2}))?"
    r"\s*(?:[\"”″]|''|in\.?|inch(?:es)?)?"
)
MILLIMETERS = re.compile(r"(\d+(?:\.\d+)?)\s*mm", re.IGNORECASE)
LONGEST_WORD = 200
TWO_DIGIT_YEARS = "years of two digits"
VULGAR = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8", "⅛": " 1/8"}


class Installed(NamedTuple):
    """When a pipe was laid: a year, and the day where it is known."""

    year: int | None
    on: date | None


NOT_INSTALLED = Installed(None, None)


def text_of(cell) -> str | Bad:
    """The text of a cell on one line, a number or a date as a person would write it."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return _clean(cell)
    if isinstance(cell, float):
        if cell != cell:
            return ""
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, UnusableCell):
        return Bad(f"The cell can't be read: {cell.why}.")
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def _clean(cell: str) -> str | Bad:
    text = cell.strip()
    # Held rows are written with an apostrophe before a formula; it is not part of the value.
    if text[:1] == "'" and could_run(text[1:]):
        text = text[1:].strip()
    if text.startswith("#") and text.upper() in SPREADSHEET_ERRORS:
        return Bad(f"{text} is a spreadsheet error, not a value. Write the value.")
    if text.startswith("="):
        return Bad(f"{shown(text)} is a formula, not a value. Write the value.")
    if not text.isprintable():
        text = " ".join(text.split())
        odd = next((sign for sign in text if not sign.isprintable() and sign != "\u00ad"), None)
        if odd is not None:
            return Bad(
                f"{shown(text)} has a control character (U+{ord(odd):04X}) in it. Write it anew."
            )
    return " ".join(text.split())


def limited_text(longest: int) -> Callable:
    """A reader of text of at most so many characters."""

    def read(cell) -> str | Bad:
        text = text_of(cell)
        if isinstance(text, str) and len(text) > longest:
            return Bad(
                f"{shown(text)} is {len(text)} characters long; at most {longest} are taken."
            )
        return text

    return read


def identifier(longest: int) -> Callable:
    """A reader of identifiers, which refuses numbers that a spreadsheet has cut.

    A word for "not known" identifies nothing.
    """
    text_within = limited_text(longest)

    def read(cell) -> str | Bad:
        text = text_within(cell)
        if isinstance(text, str) and text.casefold() in NOT_KNOWN:
            return ""
        if isinstance(text, str) and CUT_NUMBER.fullmatch(text) and "+" in text:
            return Bad(
                f"{shown(text)} is a number that a spreadsheet has shortened. "
                "Format the column as text and enter the whole identifier."
            )
        return text

    return read


def short(read: Callable) -> Callable:
    """The same reader, refusing text far longer than any word, number or day."""
    within = limited_text(LONGEST_WORD)

    def read_short(cell):
        text = within(cell) if isinstance(cell, str) else cell
        return text if isinstance(text, Bad) else read(cell)

    return read_short


def code(read_words: Callable[[str], Reading]) -> Callable:
    """A reader of words that stand for a code; blank gives an empty code."""

    def read(cell) -> str | Bad:
        text = text_of(cell)
        if isinstance(text, Bad) or not text:
            return text
        reading = read_words(text)
        if reading.code:
            return str(reading.code)
        reason = reading.reason or f"{shown(text)} is not a known word."
        return Bad(f"{reason} Say once what it stands for, or write a known word.", text)

    return read


def year(as_of: date) -> Callable:
    """A reader of years; what is known not to be known gives None."""

    def read(cell) -> int | None | Bad:
        if isinstance(cell, date):
            return _checked_year(cell.year, cell, as_of)
        text = text_of(cell)
        if isinstance(text, Bad):
            return text
        if text.casefold() in NOT_KNOWN or text in ("0", "0000"):
            return None
        if WHOLE.fullmatch(text):
            return _checked_year(int(float(text)), text, as_of)
        return Bad(f"{shown(text)} is not a year. {_wanted_year(as_of)}")

    return read


def _checked_year(number: int, written, as_of: date) -> int | Bad:
    if EARLIEST_INSTALL_YEAR <= number <= as_of.year:
        return number
    word = TWO_DIGIT_YEARS if 0 <= number < 100 and len(str(written)) == 2 else ""
    return Bad(f"{shown(written)} is not a possible year. {_wanted_year(as_of)}", word)


def _wanted_year(as_of: date) -> str:
    return f"Write four digits, from {EARLIEST_INSTALL_YEAR} to {as_of.year}, or leave it empty."


def day(as_of: date, order: str, earliest_year: int = EARLIEST_INSTALL_YEAR) -> Callable:
    """A reader of days, written in any usual form or as a spreadsheet's number."""

    def read(cell) -> date | None | Bad:
        found = _day(cell, order)
        if isinstance(found, date):
            if found > as_of:
                return Bad(
                    f"{shown(cell)} is {day_told(found)}, which lies after {day_told(as_of)}."
                )
            if found.year < earliest_year:
                return Bad(f"{shown(cell)} is {day_told(found)}, before {earliest_year}.")
        return found

    return read


def _day(cell, order: str) -> date | None | Bad:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    text = text_of(cell)
    if isinstance(text, Bad):
        return text
    if text.casefold() in NOT_KNOWN:
        return None
    if SHORT_YEAR.fullmatch(text):
        return Bad(
            f"{shown(text)} has a year of two digits. Say once which century, or write four.",
            TWO_DIGIT_YEARS,
        )
    if WHOLE.fullmatch(text) and 10_000 <= float(text) < 100_000:
        return EXCEL_DAY_ZERO + timedelta(days=int(float(text)))
    numbers = _day_numbers(text, order)
    if numbers is None:
        return Bad(f"{shown(text)} is not a date. Write it as 2024-05-31.")
    try:
        return date(*numbers)
    except ValueError:
        return Bad(_no_such_day(text, numbers, order))


def _day_numbers(text: str, order: str) -> tuple[int, int, int] | None:
    if found := ISO.fullmatch(text) or COMPACT.fullmatch(text):
        return int(found[1]), int(found[2]), int(found[3])
    if found := NUMERIC.fullmatch(text):
        first, second, year_number = int(found[1]), int(found[2]), int(found[3])
        month, day_number = (first, second) if order == "MDY" else (second, first)
        return year_number, month, day_number
    if (found := NAMED.fullmatch(text)) and bool(found[1]) != bool(found[3]):
        month = MONTHS.get(found[2][:3].lower())
        return (int(found[4]), month, int(found[1] or found[3])) if month else None
    return None


def _no_such_day(text: str, numbers: tuple[int, int, int], order: str) -> str:
    _, month, day_number = numbers
    if NUMERIC.fullmatch(text) and month > 12 >= day_number:
        written = "month/day/year" if order == "MDY" else "day/month/year"
        return f"{shown(text)} is no day when read as {written}. Write it as 2024-05-31."
    return f"{shown(text)} is a day that no calendar has. Write it as 2024-05-31."


def installed(as_of: date, order: str) -> Callable:
    """A reader of a year or a day of installation.

    A number of five digits is not taken for a spreadsheet's day here: in a column of years it
    is a slip (20255).
    """
    read_year, read_day = year(as_of), day(as_of, order)

    def read(cell) -> Installed | Bad:
        text = "" if isinstance(cell, date) else text_of(cell)
        if isinstance(text, Bad):
            return text
        if isinstance(cell, date) or _is_day(text):
            found = read_day(cell)
            return found if isinstance(found, Bad) else Installed(found.year, found)
        if month := YEAR_MONTH.fullmatch(text):
            if not 1 <= int(month[2]) <= 12:
                return Bad(f"{shown(text)} is not a month. {_wanted_year(as_of)}")
            text = month[1]
        found = read_year(text)
        if isinstance(found, Bad):
            return found
        return Installed(found, None) if found else NOT_INSTALLED

    return read


def _is_day(text: str) -> bool:
    return len(text) > 5 and any(
        form.fullmatch(text) for form in (ISO, NUMERIC, SHORT_YEAR, COMPACT, NAMED)
    )


def diameter_in(cell) -> float | None | Bad:
    """A nominal diameter in inches: 0.75, 3/4", 1 1/4 in; millimeters are converted."""
    if isinstance(cell, date):
        return Bad(
            f"{cell.isoformat()} is a date; a spreadsheet has turned a size such as 3/4 into it. "
            "Format the column as text and enter the size again."
        )
    text = text_of(cell)
    if isinstance(text, Bad):
        return text
    if text.casefold() in NOT_KNOWN or text in ("0", "0.0"):
        return None
    for sign, fraction in VULGAR.items():
        text = text.replace(sign, fraction)
    text = text.strip().lower()
    if found := MILLIMETERS.fullmatch(text):
        return _checked_diameter(round(float(found[1]) / 25.4, 3), text)
    found = DIAMETER.fullmatch(text)
    if not found or (found["bottom"] and int(found["bottom"]) == 0):
        return Bad(f"{shown(text)} is not a diameter. Write inches, such as 0.75 or 3/4.")
    number = Fraction(found["whole"] or 0)
    if found["top"]:
        number += Fraction(int(found["top"]), int(found["bottom"]))
    return _checked_diameter(float(number), text)


def _checked_diameter(inches: float, written: str) -> float | Bad:
    if SMALLEST_DIAMETER_IN <= inches <= LARGEST_DIAMETER_IN:
        return inches
    return Bad(
        f"{shown(written)} is no diameter of a service line in inches; "
        f"{SMALLEST_DIAMETER_IN} to {LARGEST_DIAMETER_IN:g} are taken."
    )


def count(cell) -> int | Bad:
    """A small whole number; blank is none."""
    text = text_of(cell)
    if isinstance(text, Bad):
        return text
    if text.casefold() in NOT_KNOWN:
        return 0
    if WHOLE.fullmatch(text) and float(text) <= MOST_POINTS:
        return int(float(text))
    return Bad(f"{shown(text)} is not a whole number from 0 to {MOST_POINTS}.")


def degrees(cell) -> float | None | Bad:
    """A coordinate as a number; blank gives None."""
    if isinstance(cell, float | int):
        return float(cell) if cell == cell else None
    text = text_of(cell)
    if isinstance(text, Bad):
        return text
    if text.casefold() in NOT_KNOWN:
        return None
    try:
        number = float(text)
    except ValueError:
        return Bad(f"{shown(text)} is not a number. Write decimal degrees, such as 41.9001.")
    return number if abs(number) < 1e12 else Bad(f"{shown(text)} is no coordinate.")
