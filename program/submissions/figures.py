"""One figure, one text: how a value of the submission is written, wherever it stands.

Page, paper, workbook, JSON and PDF all take their text from here; a cell of the workbook holds
the number that its format shows as exactly that text.
"""

import re
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from program.domain.shares import percent

PLACES = 4
ROUNDING = (
    f"Rates are in percent, cut off after {PLACES} decimals and never rounded up; numerator and "
    "denominator are exact."
)
NOT_KNOWN = "not known"
_NUMBER = re.compile(r"-?[1-9]\d{0,2}(,\d{3})+|-?(0|[1-9]\d{0,14})(\.\d{1,6})?")
_PERCENT = re.compile(r"\d{1,9}(\.\d{1,6})?%")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


class Cell(NamedTuple):
    """What a spreadsheet's cell holds, and the number format that shows it as its text."""

    value: float | date | str
    shown_as: str = ""


def figure_text(value: object) -> str:
    """Return a figure as it is written everywhere.

    Examples
    --------
    >>> figure_text(12345), figure_text(Fraction(104762, 1036800)), figure_text(None)
    ('12,345', '10.1043%', 'not known')
    """
    if value is None:
        return NOT_KNOWN
    if isinstance(value, Fraction):
        return percent(value, PLACES)
    return f"{value:,}" if isinstance(value, int) else str(value)


def figure_cell(value: object) -> Cell:
    """Return what a spreadsheet holds of a figure, or of text that is a figure.

    Examples
    --------
    >>> figure_cell(Fraction(1, 3)), figure_cell("1,036"), figure_cell("all")
    (Cell(value=0.333333, shown_as='0.0000%'), Cell(value=1036.0, shown_as='#,##0'), \
Cell(value='all', shown_as=''))
    """
    if isinstance(value, date):
        return Cell(value)
    text = figure_text(value)
    if _DAY.fullmatch(text):
        return _day_cell(text)
    if _PERCENT.fullmatch(text):
        places = len(text.partition(".")[2].rstrip("%"))
        return Cell(float(Fraction(text[:-1]) / 100), f"0{_decimals(places)}%")
    if _NUMBER.fullmatch(text):
        places = len(text.partition(".")[2])
        grouped = "#,##0" if isinstance(value, int) or "," in text else "0"
        return Cell(float(text.replace(",", "")), grouped + _decimals(places))
    return Cell(text)


def _day_cell(text: str) -> Cell:
    try:
        return Cell(date.fromisoformat(text))
    except ValueError:
        return Cell(text)


def _decimals(places: int) -> str:
    return "." + "0" * places if places else ""


def exact_parts(value: object) -> tuple[int, int] | tuple[None, None]:
    """Return numerator and denominator of a rate."""
    return (value.numerator, value.denominator) if isinstance(value, Fraction) else (None, None)


def figure_read(value: object) -> object:
    """Return a figure from its plain JSON form."""
    if isinstance(value, dict):
        return Fraction(int(value["numerator"]), int(value["denominator"]))
    return value
