"""What logs say of the force model, soil by soil.

Measured is the 95th percentile of the force while the pull moves, samples at joints left out;
estimated is the greatest expected force of the run without its joints. The highest single sample
would be hostage to one knock on the gauge, and a spike at a joint says nothing of the soil. Where
the force rises evenly along the run, the 95th percentile lies below the highest force by a
twentieth of that rise; the spread of the next pull is far wider than that. Peaks, joints included,
are held against the limits elsewhere and never averaged.

A log at the puller measures the total only. What is learned here is never applied to the drag on
the new pipe, which nothing measures.
"""

import hashlib
import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from replacements.domain.learning.belief import Z90, Belief, Prior, beliefs, planning_prior
from replacements.domain.pull_force.parameters import ParameterSet


@dataclass(frozen=True)
class Observation:
    """One pull.

    estimated_lbf : greatest expected total of the run, joints left out, without any calibration
    measured_lbf : 95th percentile of the accepted log while moving, joints left out; of a pull that
        stopped, or was not accepted, the force that it reached
    parameter_set : id of the constants of that estimate
    stopped : the pull needed at least the measured force, nobody knows how much more
    """

    soil_code: str
    estimated_lbf: float
    measured_lbf: float
    parameter_set: str
    stopped: bool = False

    def __post_init__(self):
        """Refuse forces that have no logarithm.

        Raises
        ------
        ValueError: if a force is not above zero.
        """
        for name, value in (("estimated", self.estimated_lbf), ("measured", self.measured_lbf)):
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"The {name} force of a pull must be above zero, not {value:g}.")

    @property
    def log_ratio(self) -> float:
        return math.log(self.measured_lbf / self.estimated_lbf)


@dataclass(frozen=True)
class Calibration:
    """What is believed of one soil after n pulls.

    bias_factor : measured over estimated, the middle of the belief
    interval : the same from its 10th to its 90th percentile
    sigma_ln : spread of the next pull as the logarithm's standard deviation, matched at whichever
        of the tenth and ninetieth percentile lies further off
    n : pulls used, those that stopped or were not accepted included
    stopped : how many of them stopped or were not accepted
    left_out : pulls not used, for they were estimated with other constants
    """

    soil_code: str
    bias_factor: float
    interval: tuple[float, float]
    sigma_ln: float
    n: int
    left_out: int = 0
    parameter_set: str = ""
    stopped: int = 0

    @property
    def id(self) -> str:
        """Twelve characters that change with what was learned; stored with each estimate."""
        text = f"{self.soil_code}|{self.n}|{self.bias_factor!r}|{self.sigma_ln!r}"
        return hashlib.sha256(f"{text}|{self.parameter_set}".encode()).hexdigest()[:12]

    @property
    def next_pull(self) -> tuple[float, float]:
        """Tenth and ninetieth percentile of measured over estimated for the next pull."""
        spread = math.exp(Z90 * self.sigma_ln)
        return self.bias_factor / spread, self.bias_factor * spread


def calibrate(
    observations: Iterable[Observation],
    prior: Prior | None = None,
    parameter_set: str | None = None,
) -> dict[str, Calibration]:
    """Return what is believed of each soil in which a pull was logged, by its code.

    Only pulls estimated with the given set of constants count (the shipped set if None); others
    are counted in `left_out`, for a change of constants changes what their ratio means.
    """
    wanted = ParameterSet().id if parameter_set is None else parameter_set
    by_soil: dict[str, list[Observation]] = {}
    for observation in observations:
        by_soil.setdefault(observation.soil_code, []).append(observation)
    return {code: _after(code, pulls, prior, wanted)[-1] for code, pulls in sorted(by_soil.items())}


def narrowing(
    observations: Iterable[Observation],
    soil_code: str,
    prior: Prior | None = None,
    parameter_set: str | None = None,
    counts: Collection[int] | None = None,
) -> list[Calibration]:
    """Return the belief of one soil before any pull, then after each in the order given.

    counts : after how many pulls, in rising order, where not after each
    """
    wanted = ParameterSet().id if parameter_set is None else parameter_set
    pulls = [o for o in observations if o.soil_code == soil_code and o.parameter_set == wanted]
    return _after(
        soil_code, pulls, prior, wanted, range(len(pulls) + 1) if counts is None else counts
    )


def _after(
    code: str,
    pulls: list[Observation],
    prior: Prior | None,
    wanted: str,
    counts: Collection[int] | None = None,
) -> list[Calibration]:
    used = [pull for pull in pulls if pull.parameter_set == wanted]
    counts = [len(used)] if counts is None else counts
    ratios, stopped = [p.log_ratio for p in used], [p.stopped for p in used]
    found = beliefs(ratios, stopped, prior or planning_prior(), counts)
    return [
        _calibration(code, belief, count, sum(stopped[:count]), len(pulls) - len(used), wanted)
        for count, belief in zip(counts, found, strict=True)
    ]


def _calibration(
    code: str, belief: Belief, count: int, stopped: int, left_out: int, wanted: str
) -> Calibration:
    further = max(belief.next_high - belief.middle, belief.middle - belief.next_low)
    return Calibration(
        soil_code=code,
        bias_factor=math.exp(belief.middle),
        interval=(math.exp(belief.low), math.exp(belief.high)),
        sigma_ln=further / Z90,
        n=count,
        left_out=left_out,
        parameter_set=wanted,
        stopped=stopped,
    )
