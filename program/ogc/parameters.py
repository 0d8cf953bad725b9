"""The parameters of a query for features: read strictly, as the standard asks.

An unknown name or a value that cannot be read is an error of the client
(/req/core/query-param-unknown, /req/core/query-param-invalid).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from math import isfinite

from django.db.models import Q

from program.ogc.collections import Collection

LIMIT_DEFAULT, LIMIT_MAX = 100, 1_000
FORMATS = ("json",)
_OPEN = ("", "..")


class BadParameter(Exception):
    """A parameter that the service does not know or cannot read; the message says which."""


@dataclass(frozen=True)
class Query:
    """What was asked: which lines, how many, after which one."""

    limit: int = LIMIT_DEFAULT
    after: int = 0
    condition: Q = field(default_factory=Q)
    narrowed: bool = False


def no_parameters(given: Mapping[str, str]) -> None:
    """Allow only the format.

    Raises
    ------
    BadParameter: another parameter is given, or another format asked for.
    """
    _known(given, {"f"})
    _format(given)


def read_query(given: Mapping[str, str], collection: Collection) -> Query:
    """Read the parameters of a query for the items of a collection.

    Raises
    ------
    BadParameter: a parameter is not known or its value cannot be read.
    """
    _known(given, {"f", "limit", "bbox", "datetime", "token", *collection.filters})
    _format(given)
    condition = Q()
    if "bbox" in given:
        condition &= _box(given["bbox"])
    if "datetime" in given:
        condition &= _time(given["datetime"])
    for name, column in collection.filters.items():
        if name in given:
            condition &= _equal(column, given[name])
    return Query(
        min(_whole("limit", given.get("limit", str(LIMIT_DEFAULT)), 1), LIMIT_MAX),
        _whole("token", given.get("token", "0"), 0),
        condition,
        bool(condition),
    )


def _known(given: Mapping[str, str], names: set[str]) -> None:
    unknown = sorted(set(given) - names)
    if unknown:
        raise BadParameter(
            f"There is no parameter '{unknown[0][:60]}'. There are: {', '.join(sorted(names))}."
        )


def _format(given: Mapping[str, str]) -> None:
    if given.get("f", "json") not in FORMATS:
        raise BadParameter(f"f is '{given['f'][:60]}'; it may be {', '.join(FORMATS)}.")


def _whole(name: str, text: str, least: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 19 and int(text) >= least):
        raise BadParameter(f"{name} is '{text[:60]}'; give a whole number, {least} or more.")
    return int(text)


def _box(text: str) -> Q:
    """Read four or six numbers; a west greater than the east crosses the antimeridian."""
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError as error:
        raise BadParameter(f"bbox is '{text[:80]}'; give four numbers with commas.") from error
    if len(numbers) not in (4, 6) or not all(map(isfinite, numbers)):
        raise BadParameter("bbox has four numbers: west, south, east, north (or six with heights).")
    half = len(numbers) // 2
    west, south, east, north = *numbers[:2], *numbers[half : half + 2]
    if south > north or not (-90 <= south and north <= 90):
        raise BadParameter("bbox: the south is at most the north, both from -90 to 90 degrees.")
    if not all(-180 <= side <= 180 for side in (west, east)):
        raise BadParameter("bbox: west and east are from -180 to 180 degrees.")
    across = Q(premise__longitude__range=(west, east))
    if west > east:
        across = Q(premise__longitude__gte=west) | Q(premise__longitude__lte=east)
    return across & Q(premise__latitude__range=(south, north))


def _time(text: str) -> Q:
    """Read an instant or an interval; a line's time runs from `category_since`, open-ended."""
    parts = text.split("/")
    if len(parts) > 2:
        raise BadParameter(f"datetime is '{text[:80]}'; an interval has one slash.")
    days = [None if len(parts) == 2 and part in _OPEN else _day(part) for part in parts]
    if len(days) == 2 and None not in days and days[0] > days[1]:
        raise BadParameter("datetime: the interval ends before it starts.")
    last = days[-1]
    return Q() if last is None else Q(category_since__lte=last)


def _day(text: str) -> date:
    try:
        if len(text) == 10:
            return date.fromisoformat(text)
        if "T" in text.upper():
            return datetime.fromisoformat(text.upper()).date()
    except ValueError:
        pass
    raise BadParameter(f"datetime is '{text[:80]}'; write a day or a moment as RFC 3339 does.")


def _equal(column, text: str) -> Q:
    if column.codes and text not in column.codes:
        known = ", ".join(code or "(empty)" for code in column.codes)
        raise BadParameter(f"{column.name} is '{text[:60]}'; it may be {known}.")
    return Q(**{column.lookup: text})
