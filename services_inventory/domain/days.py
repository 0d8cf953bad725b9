"""Counting in months, as every clock of the rule and every paper runs; a day in a sentence."""

from calendar import month_abbr, monthrange
from datetime import date
from functools import lru_cache


def add_months(day: date, months: int) -> date:
    """Return the same day some months on, or the last of the month where there is no such day.

    Raises
    ------
    ValueError: the result lies outside the years 1 to 9999.

    Examples
    --------
    >>> add_months(date(2028, 8, 31), 6)
    datetime.date(2029, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise ValueError(f"{months} months from {day_told(day)} lies outside the calendar.")
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


@lru_cache(maxsize=4096)  # a calendar of a year says the same few days a thousand times
def day_told(day: date) -> str:
    """Return a day as a sentence says it, the way the pages write days.

    Examples
    --------
    >>> day_told(date(2031, 1, 5))
    'Jan 5, 2031'
    """
    return f"{month_abbr[day.month]} {day.day}, {day.year}"


def kept_day_told(text: str) -> str:
    """Return a day that is kept as YYYY-MM-DD, such as one of a plan's result, as pages write it.

    Raises ValueError if it is no such day.
    """
    return day_told(date.fromisoformat(text))
