"""How well the ranges held that would have been given before each pull.

Each pull is held against the belief from the pulls before it, never against one that it helped to
make. Coverage says how often the range held, sharpness how wide it was: a range that always holds
because it reaches everywhere is of no use either.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from replacements.domain.learning.belief import LEVEL
from replacements.domain.learning.calibration import Calibration, Observation
from services_inventory.domain.labels import Labeled


class AgainstRange(Labeled):
    """Where a pull came to lie; a pull that stopped inside the range decides nothing."""

    INSIDE = "INSIDE"
    ABOVE = "ABOVE"
    BELOW = "BELOW"
    OPEN = "OPEN", "stopped: open"


@dataclass(frozen=True)
class Scored:
    """One pull: the range of measured over estimated before it, and where it came to lie."""

    low: float
    high: float
    ratio: float
    stopped: bool

    @property
    def outcome(self) -> AgainstRange:
        if self.ratio > self.high:
            return AgainstRange.ABOVE
        if self.stopped:
            return AgainstRange.OPEN
        return AgainstRange.BELOW if self.ratio < self.low else AgainstRange.INSIDE

    @property
    def width(self) -> float:
        """The range's high end over its low end."""
        return self.high / self.low


@dataclass(frozen=True)
class Scores:
    """The score of one soil's ranges; the pulls that decide something are judged."""

    pulls: tuple[Scored, ...]

    def _count(self, *outcomes: AgainstRange) -> int:
        return sum(pull.outcome in outcomes for pull in self.pulls)

    @property
    def judged(self) -> int:
        return len(self.pulls) - self._count(AgainstRange.OPEN)

    @property
    def inside(self) -> int:
        return self._count(AgainstRange.INSIDE)

    @property
    def above(self) -> int:
        return self._count(AgainstRange.ABOVE)

    @property
    def usual(self) -> tuple[int, int]:
        """How many inside are usual where the ranges are right: nine times in ten from, to."""
        from scipy.special import bdtr

        low, high = (
            next(n for n in range(self.judged + 1) if bdtr(n, self.judged, LEVEL) >= share)
            for share in (0.05, 0.95)
        )
        return low, high

    @property
    def sharpness(self) -> float | None:
        """Geometric mean of the widths; None before any pull."""
        if not self.pulls:
            return None
        return math.exp(math.fsum(math.log(p.width) for p in self.pulls) / len(self.pulls))


def score(before: Sequence[Calibration], pulls: Sequence[Observation]) -> Scores:
    """Return the score of pulls, each against the belief before it, both in the same order."""
    return Scores(
        tuple(
            Scored(*belief.next_pull, pull.measured_lbf / pull.estimated_lbf, pull.stopped)
            for belief, pull in zip(before, pulls, strict=True)
        )
    )
