"""Serializers made from the domain's own dataclasses, so that their fields are written once."""

import math
from collections.abc import Mapping
from dataclasses import MISSING, fields
from datetime import date, datetime
from functools import cache
from types import NoneType, UnionType
from typing import get_args, get_origin, get_type_hints

from rest_framework import serializers


class Figure(serializers.FloatField):
    """A finite number within what anything on a job can measure."""

    def __init__(self, **options):
        super().__init__(**{"min_value": -1e6, "max_value": 1e6, **options})

    def to_internal_value(self, data) -> float:
        """Return the number; what is not finite is refused."""
        if isinstance(data, bool):
            self.fail("invalid")
        value = super().to_internal_value(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Id(serializers.IntegerField):
    """The number of a record, within what every reader of JSON keeps exactly (RFC 8259, 6)."""

    def __init__(self, **options):
        super().__init__(**{"min_value": 1, "max_value": 2**53 - 1, **options})


FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2099, 12, 31)
_OUT_OF_TIME = f"Look at the year: days here lie between {FIRST_DAY.year} and {LAST_DAY.year}."


class Day(serializers.DateField):
    """A day on which something of a job can have been, or be meant to be."""

    def to_internal_value(self, data) -> date:
        """Return the day; what lies in another age is a slip of the pen."""
        day = super().to_internal_value(data)
        if not FIRST_DAY <= day <= LAST_DAY:
            raise serializers.ValidationError(_OUT_OF_TIME)
        return day


class Moment(serializers.DateTimeField):
    """A moment at which something of a job can have been, or be meant to be."""

    def to_internal_value(self, data) -> datetime:
        """Return the moment; what lies in another age is a slip of the pen."""
        moment = super().to_internal_value(data)
        if not FIRST_DAY <= moment.date() <= LAST_DAY:
            raise serializers.ValidationError(_OUT_OF_TIME)
        return moment


class FigureByPlace(serializers.DictField):
    """Figures by a short name of the place, such as {"main": 4.5}."""

    child = Figure()

    def to_internal_value(self, data) -> dict:
        """Return the figures; a name is 1 to 40 printable characters."""
        value = super().to_internal_value(data)
        for name in value:
            if not (0 < len(name) <= 40 and name.isprintable()):
                raise serializers.ValidationError("Name each place in 1 to 40 characters.")
        return value


@cache
def serializer_of(kind: type) -> type[serializers.Serializer]:
    """Return a serializer with a field for each field of a dataclass."""
    hints = get_type_hints(kind)
    members = {}
    for field in fields(kind):
        required = field.default is MISSING and field.default_factory is MISSING
        members[field.name] = _field(hints[field.name], required)
    members["__doc__"] = (kind.__doc__ or "").strip().splitlines()[0]
    return type(f"{kind.__name__}Serializer", (serializers.Serializer,), members)


def _field(hint, required: bool) -> serializers.Field:
    options = {"required": required}
    if get_origin(hint) is UnionType:
        hint = next(part for part in get_args(hint) if part is not NoneType)
        options["allow_null"] = True
    origin = get_origin(hint)
    if origin is tuple:
        return serializer_of(get_args(hint)[0])(many=True, max_length=20, **options)
    if origin is not None and issubclass(origin, Mapping):
        return FigureByPlace(**options)
    if hasattr(hint, "__dataclass_fields__"):
        return serializer_of(hint)(**options)
    return _PLAIN[hint](**options)


def _text(**options) -> serializers.CharField:
    return serializers.CharField(max_length=200, allow_blank=True, **options)


def _count(**options) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=10_000, **options)


_PLAIN = {
    str: _text,
    int: _count,
    float: Figure,
    bool: serializers.BooleanField,
    date: Day,
}


def facts_back(kind: type, values: Mapping):
    """Return a dataclass of what its serializer validated."""
    hints = get_type_hints(kind)
    return kind(**{name: _back(hints[name], value) for name, value in values.items()})


def _back(hint, value):
    if value is None:
        return None
    if get_origin(hint) is UnionType:
        hint = next(part for part in get_args(hint) if part is not NoneType)
    if get_origin(hint) is tuple:
        return tuple(facts_back(get_args(hint)[0], row) for row in value)
    return facts_back(hint, value) if hasattr(hint, "__dataclass_fields__") else value
