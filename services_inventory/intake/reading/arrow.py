"""Arrow columns as plain Python values."""

from datetime import datetime, time, timedelta
from decimal import Decimal

from services_inventory.intake.reading.table import UnusableCell

NOT_READ = UnusableCell("it holds bytes that are no text in UTF-8, or a day that no calendar has")


def cells_of(column) -> list:
    """The column's values; a day with no time of day is a date, an exact decimal a number.

    A value that cannot be had is said to be unusable, and costs its row alone.
    """
    import pyarrow
    import pyarrow.types as types

    kind = column.type
    try:
        values = column.to_pylist()
    except (ValueError, OverflowError, pyarrow.ArrowException):
        values = list(map(_value, column))
    if types.is_string(kind) or types.is_large_string(kind) or types.is_integer(kind):
        return values
    if types.is_floating(kind):
        return [None if value != value else value for value in values]
    return [_plain(value) for value in values]


def _value(scalar):
    import pyarrow

    try:
        return scalar.as_py()
    except (ValueError, OverflowError, pyarrow.ArrowException):
        return NOT_READ


def _plain(value):
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        return value.date() if value.time() == time() else datetime(*value.timetuple()[:6])
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    return str(value) if isinstance(value, time | timedelta | list | dict) else value
