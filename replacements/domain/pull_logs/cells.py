"""Reading single cells of a log: plain numbers, numbers with a unit, clock times, timestamps."""

import re
from datetime import UTC, datetime

from replacements.domain.units import unit_named

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_INTEGER = re.compile(r"[+-]?\d+([eE][+-]?\d{1,3})?")
GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")
DECIMAL_COMMA = re.compile(r"[+-]?(\d+,\d*|,\d+)([eE][+-]?\d{1,3})?")
_WITH_UNIT = re.compile(r"([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([A-Za-z'\"][A-Za-z0-9/²^'\"]*)")
_CLOCK = re.compile(r"(?:(\d{1,4}):)?([0-5]?\d):([0-5]?\d(?:[.,]\d+)?)\s*([AaPp][Mm])?")
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}([.,]\d+)?)?\s*(Z|[+-]\d{2}:?\d{2})?")
_SLASHED = re.compile(
    r"(\d{1,2})[/.](\d{1,2})[/.](\d{4}|\d{2})[T, ]+"
    r"(\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?)\s*([AaPp][Mm])?"
)


def number(text: str, decimal_comma: bool = False) -> float | None:
    """Return the number a cell holds, None when it holds no number."""
    text = text.strip()
    if decimal_comma:
        # A point here may mean thousands: such a cell is left unread rather than guessed.
        plain = _INTEGER.fullmatch(text) or DECIMAL_COMMA.fullmatch(text)
        return float(text.replace(",", ".")) if plain else None
    if _NUMBER.fullmatch(text):
        return float(text)
    return float(text.replace(",", "")) if GROUPED.fullmatch(text) else None


def number_and_unit(text: str, decimal_comma: bool = False) -> tuple[float | None, str | None]:
    """Return the number of a cell and the unit written behind it, None for what is not there."""
    plain = number(text, decimal_comma)
    if plain is not None:
        return plain, None
    match = _WITH_UNIT.fullmatch(text.strip())
    if match is None:
        return None, None
    unit = unit_named(match[2])
    return (number(match[1], decimal_comma), unit) if unit else (None, None)


def looks_clock(text: str) -> bool:
    """Tell whether a cell is a time of day or a duration such as 09:41:07.5."""
    return _CLOCK.fullmatch(text.strip()) is not None


def looks_iso(text: str) -> bool:
    """Tell whether a cell is a date with a time."""
    text = text.strip()
    return _ISO.fullmatch(text) is not None or _SLASHED.fullmatch(text) is not None


def clock_seconds(text: str) -> float | None:
    """Return a time of day or duration in seconds; two parts are minutes and seconds."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hours, minutes, seconds, half = match.groups()
    if half and hours is None:
        return None
    whole_hours = int(hours or 0)
    if half:
        whole_hours = whole_hours % 12 + (12 if half.lower() == "pm" else 0)
    return whole_hours * 3600 + int(minutes) * 60 + float(seconds.replace(",", "."))


def timestamp_seconds(text: str) -> float | None:
    """Return a date with a time as seconds; only differences between two have a meaning."""
    text = text.strip()
    try:
        if _ISO.fullmatch(text):
            return _since_epoch(datetime.fromisoformat(text.replace(",", ".").replace(" Z", "Z")))
        match = _SLASHED.fullmatch(text)
        return _slashed_seconds(match) if match else None
    except (ValueError, OverflowError):
        return None


def _slashed_seconds(match: re.Match) -> float | None:
    first, second, year = int(match[1]), int(match[2]), int(match[3])
    # Month first unless it cannot be; a pull lasts minutes, so the day itself does not matter.
    month, day = (second, first) if first > 12 else (first, second)
    clock = match[4] if match[4].count(":") == 2 else f"{match[4]}:00"
    seconds = clock_seconds(f"{clock} {match[5]}" if match[5] else clock)
    midnight = datetime(year + 2000 if year < 100 else year, month, day)
    return None if seconds is None else _since_epoch(midnight) + seconds


def _since_epoch(moment: datetime) -> float:
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
