"""The categories that a service line can have; which it has is decided by `classification`."""

from enum import StrEnum


class Category(StrEnum):
    """The category of a whole line."""

    LEAD = "LEAD"
    GRR = "GRR"
    NON_LEAD = "NON_LEAD"
    UNKNOWN = "UNKNOWN"

    @property
    def label(self) -> str:
        """The words a person reads."""
        return _LABELS[self]


_LABELS = {
    Category.LEAD: "lead",
    Category.GRR: "galvanized requiring replacement",
    Category.NON_LEAD: "non-lead",
    Category.UNKNOWN: "lead status unknown",
}
