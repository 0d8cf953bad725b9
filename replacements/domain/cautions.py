"""The usual cautions, each at the step of the work where it matters; data in `cautions.csv`."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from replacements.domain.reference_tables import cited, rows


class Step(StrEnum):
    """A step of the work at which something can hurt somebody."""

    FIRST = "FIRST"
    PITS = "PITS"
    UTILITIES = "UTILITIES"
    LINE = "LINE"
    LEAD = "LEAD"
    TRAFFIC = "TRAFFIC"
    ASSEMBLY = "ASSEMBLY"
    LOADED = "LOADED"
    LEAVING = "LEAVING"
    RELEASE = "RELEASE"
    WATER = "WATER"


BEFORE = (Step.PITS, Step.UTILITIES, Step.LINE, Step.LEAD, Step.TRAFFIC)
STRING = (Step.ASSEMBLY, Step.LOADED, Step.LEAVING, Step.RELEASE)
AFTER = (Step.LEAVING, Step.RELEASE, Step.UTILITIES, Step.LEAD, Step.LINE, Step.WATER)
PULL_ONLY = frozenset(STRING)


@dataclass(frozen=True)
class Caution:
    """One caution with its source, or the word that there is none."""

    step: Step
    caution: str
    source: str
    mark: str

    @property
    def cited(self) -> str:
        """The source with its mark."""
        return cited(self.source, self.mark)

    @property
    def first(self) -> str:
        """Its first sentence, which is seen wherever the rest is folded."""
        return self.caution.partition(". ")[0].rstrip(".") + "."

    @property
    def rest(self) -> str:
        """What follows the first sentence."""
        return self.caution.partition(". ")[2]

    def __str__(self) -> str:
        return self.caution


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Return every caution, in the order of the work."""
    return tuple(
        Caution(Step(row["step"]), row["caution"], row["source"], row["mark"])
        for row in rows("cautions")
    )


def cautions_for(*steps: Step, pulled: bool = True) -> list[Caution]:
    """Return what defers to codes, makers and the competent person, then the cautions of steps.

    pulled : whether a cable or rod is loaded; without one those of the string are left out
    """
    wanted = {Step.FIRST, *steps} - (frozenset() if pulled else PULL_ONLY)
    return [found for found in all_cautions() if found.step in wanted]
