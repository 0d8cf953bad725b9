"""How far the truth may lie from the estimate: one range, tenth to ninetieth percentile.

What it covers and how often is said in one place, `RANGE_COVERS`. Two spreads are found, and the
wider one is reported.

1. The model's own: pulls scatter about the estimate as a lognormal with SIGMA_LN 0.55, a factor
   of two either way eight times in ten.
2. The parameters': every uncertain constant is drawn from its range, two thousand times with a
   fixed seed, and the model is run for each draw. A draw lies above the default as often as below
   it, so the estimate itself stays the median; each half is triangular and falls to nothing at the
   end of the range.

Both are combined in `Drawn.sigma_ln`, which is never below SIGMA_LN: what the parameters do not
explain is put down to the model. So a measurement before the pull moves the middle, and only logs
of pulls narrow the range.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from types import MappingProxyType
from typing import NamedTuple

from replacements.domain.pull_force.case import PullCase
from replacements.domain.pull_force.model import SOIL_RIGIDITY, SOIL_STRENGTH, run

# What the one range says, wherever it is shown.
RANGE_COVERS = "meant to hold eight pulls in ten; one in ten needs more, one in ten less"
DRAWS = 2000
SEED = 20271101
Z90 = NormalDist().inv_cdf(0.9)


class Interval(NamedTuple):
    """Low, default and high of one uncertain value."""

    low: float
    default: float
    high: float

    @property
    def uncertain(self) -> bool:
        return self.low < self.high


@dataclass(frozen=True)
class Range:
    """A force with its tenth, fiftieth and ninetieth percentile, lb."""

    low_lbf: float
    expected_lbf: float
    high_lbf: float

    def times(self, factor: float) -> "Range":
        return Range(self.low_lbf * factor, self.expected_lbf * factor, self.high_lbf * factor)

    def wider(self, other: "Range") -> "Range":
        """Return the range that reaches as far as either, about this one's middle."""
        return Range(
            min(self.low_lbf, other.low_lbf),
            self.expected_lbf,
            max(self.high_lbf, other.high_lbf),
        )


@dataclass(frozen=True)
class Drawn:
    """What the parameters' ranges do to the two forces.

    total, drag : Range, percentiles of the draws
    parameter_sigma_ln : standard deviation of the logarithm of the total, over the draws
    sigma_ln : that and the model's own residual together, never below SIGMA_LN
    """

    total: Range
    drag: Range
    parameter_sigma_ln: float
    residual_sigma_ln: float
    draws: int
    seed: int

    @property
    def sigma_ln(self) -> float:
        return math.hypot(self.parameter_sigma_ln, self.residual_sigma_ln)


def lognormal_range(expected_lbf: float, sigma_ln: float) -> Range:
    """Return the tenth to ninetieth percentile of a lognormal about its median."""
    factor = math.exp(Z90 * sigma_ln)
    return Range(expected_lbf / factor, expected_lbf, expected_lbf * factor)


def intervals(case: PullCase) -> dict[str, Interval]:
    """Return every value the model reads, the ground's own included, with its range."""
    found = {
        code: Interval(p.low, p.default, p.high)
        for code, p in case.parameter_set.parameters.items()
    }
    ground = case.ground
    found[SOIL_STRENGTH] = Interval(ground.strength_low, ground.strength, ground.strength_high)
    found[SOIL_RIGIDITY] = Interval(
        ground.rigidity_low, ground.rigidity_index, ground.rigidity_high
    )
    return found


def central(found: Mapping[str, Interval]) -> dict[str, float]:
    """Return the defaults."""
    return {code: interval.default for code, interval in found.items()}


def draw(case: PullCase, draws: int = DRAWS, seed: int = SEED) -> Drawn:
    """Return the spread of both forces over the parameters' ranges; the same for the same seed."""
    import numpy

    pull = run(case, _values(tuple(intervals(case).items()), draws, seed), numpy)
    totals, drags = pull.peak(), pull.drag(case.length_ft)
    parameters = float(numpy.log(totals).std())
    sigma = case.parameter_set["SIGMA_LN"]
    return Drawn(
        total=_percentiles(totals, numpy),
        drag=_percentiles(drags, numpy),
        parameter_sigma_ln=parameters,
        residual_sigma_ln=math.sqrt(max(sigma**2 - parameters**2, 0.0)),
        draws=draws,
        seed=seed,
    )


@lru_cache(maxsize=4)
def _values(found: tuple[tuple[str, Interval], ...], draws: int, seed: int) -> Mapping:
    """Return draws of every value: the same for every length of run that a search tries."""
    import numpy

    generator = numpy.random.default_rng(seed)
    values = {code: _drawn(interval, generator.random(draws), numpy) for code, interval in found}
    for drawn in values.values():
        drawn.flags.writeable = False
    return MappingProxyType(values)


def _drawn(interval: Interval, uniform, numpy):
    """Map uniform draws onto two triangles back to back, half of the draws in each."""
    if not interval.uncertain:
        return numpy.full_like(uniform, interval.default)
    below = interval.low + (interval.default - interval.low) * numpy.sqrt(2 * uniform)
    above = interval.high - (interval.high - interval.default) * numpy.sqrt(2 * (1 - uniform))
    return numpy.where(uniform < 0.5, below, above)


def _percentiles(forces, numpy) -> Range:
    return Range(*(float(value) for value in numpy.percentile(forces, (10, 50, 90))))
