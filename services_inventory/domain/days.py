"""Counting in months: the one way that every clock of the rule and every paper runs."""

from calendar import monthrange
from datetime import date


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
        raise ValueError(f"{months} months from {day} lies outside the calendar.")
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
