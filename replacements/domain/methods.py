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

    @property
    def pulls(self) -> bool:
        """Whether a loaded cable or rod draws the new pipe in."""
        return self in PULLED


LABELS = {
    Method.PULL_OUT: "Pull the old pipe out",
    Method.SPLIT: "Slit in place, new pipe follows",
    Method.ROD_SPLIT: "Split with rods",
    Method.PIERCING: "Piercing tool",
    Method.DRILLING: "Directional drilling",
    Method.OPEN_CUT: "Open cut",
}
PULLED = frozenset({Method.PULL_OUT, Method.SPLIT, Method.ROD_SPLIT})
