"""Codes with the words that a person reads."""

from enum import StrEnum


class Labeled(StrEnum):
    """A code that has a label: `RODS = "ROD", "Rods"`; without one, the code's own words."""

    _value_: str
    label: str

    def __new__(cls, code: str, label: str = ""):
        """Make a member of its code; the label is no part of its value."""
        member = str.__new__(cls, code)
        member._value_ = code
        member.label = label or code.replace("_", " ").lower()
        return member
