"""The ways of replacing a service line; which suits a line is `method_advice`."""

from enum import StrEnum


class Method(StrEnum):
    """A way of replacing a service line."""

    PULL_OUT = "PULL_OUT"
    SPLIT = "SPLIT"
    ROD_SPLIT = "ROD_SPLIT"
    PIERCING = "PIERCING"
    DRILLING = "DRILLING"
    OPEN_CUT = "OPEN_CUT"

    @property
    def label(self) -> str:
        return LABELS[self]


LABELS = {
    Method.PULL_OUT: "Pull the old pipe out",
    Method.SPLIT: "Slit in place, new pipe follows",
    Method.ROD_SPLIT: "Split with rods",
    Method.PIERCING: "Piercing tool",
    Method.DRILLING: "Directional drilling",
    Method.OPEN_CUT: "Open cut",
}
PULLED = frozenset({Method.PULL_OUT, Method.SPLIT, Method.ROD_SPLIT})


def pulled_as(method: str) -> Method:
    """Return how an order is pulled; one of another method as if it were slit, to try it out."""
    return Method(method) if method in PULLED else Method.SPLIT


def is_pulled(method: str) -> bool:
    """Tell whether a cable or rod under load draws the new pipe in; a method not known may."""
    return method in PULLED or method not in set(Method)
