"""A value that its type lets be missing, asked for where an earlier check made sure of it."""

from typing import TypeVar

T = TypeVar("T")


def certain(value: T | None) -> T:
    """Return the value.

    Raises
    ------
    LookupError: it is missing after all, which is a mistake of the program.
    """
    if value is None:
        raise LookupError("a value is missing that an earlier check made sure of")
    return value
