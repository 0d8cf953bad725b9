"""Arrow columns as plain Python values."""

from datetime import datetime, time, timedelta
from decimal import Decimal


def cells_of(column) -> list:
    """The column's values; a day with no time of day is a date, an exact decimal a number."""
    import pyarrow.types as types

    kind = column.type
    values = column.to_pylist()
    if types.is_string(kind) or types.is_large_string(kind) or types.is_integer(kind):
        return values
    if types.is_floating(kind):
        return [None if value != value else value for value in values]
    return [_plain(value) for value in values]


def _plain(value):
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        value = value.replace(tzinfo=None)
        return value.date() if value.time() == time() else value
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    return str(value) if isinstance(value, time | timedelta) else value
