"""What accepted pulls teach: how far the estimate was off in each soil, and how it scatters.

The logarithm of measured over estimated force is taken as normal about a bias, both the bias and
the scatter unknown (the conjugate normal-inverse-gamma model, in closed form). The prior says "no
bias, factor of two"; it is worth a couple of pulls, so a first pull moves the estimate a little and
the tenth moves it little more than the data ask.

Measured is the 95th percentile of the force while the pull moves, samples at joints left out;
estimated is the greatest expected force of the run without its joints. The highest single sample
would be hostage to one knock on the gauge, and a spike at a joint says nothing of the soil. Where
the force rises evenly along the run, the 95th percentile lies below the highest force by a
twentieth of that rise; the spread of the next pull is far wider than that. Peaks, joints included,
are held against the limits elsewhere and never averaged.

A log at the puller measures the total only. Nothing here may lower the drag on the new pipe.
"""

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from replacements.domain.pull_force.parameters import ParameterSet

Z90 = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True)
class Observation:
    """One accepted pull.

    estimated_lbf : greatest expected total of the run, joints left out, without any calibration
    measured_lbf : 95th percentile of the accepted log while moving, joints left out
    parameter_set : id of the constants of that estimate
    """

    soil_code: str
    estimated_lbf: float
    measured_lbf: float
    parameter_set: str

    def __post_init__(self):
        """Refuse forces that have no logarithm.

        Raises
        ------
        ValueError
            If a force is not above zero.
        """
        for name, value in (("estimated", self.estimated_lbf), ("measured", self.measured_lbf)):
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"The {name} force of a pull must be above zero, not {value:g}.")

    @property
    def log_ratio(self) -> float:
        return math.log(self.measured_lbf / self.estimated_lbf)


@dataclass(frozen=True)
class Prior:
    """What is believed before any pull: normal-inverse-gamma on the log ratio.

    mean : expected bias, as a logarithm; 0 is none
    pulls : how many pulls that belief is worth
    shape, scale : of the inverse gamma on the variance of the scatter
    """

    mean: float
    pulls: float
    shape: float
    scale: float


def planning_prior(sigma_ln: float | None = None, pulls: float = 2.0, shape: float = 4.0) -> Prior:
    """Return a prior without bias whose next pull spreads by `sigma_ln`; shipped SIGMA_LN if None.

    The spread is matched at the tenth and ninetieth percentile, so that before any pull the
    calibrated range equals the plain one. Two pulls and a shape of four are judgment.
    """
    sigma = ParameterSet()["SIGMA_LN"] if sigma_ln is None else sigma_ln
    spread = sigma * Z90 / _student_quantile(0.9, 2 * shape)
    return Prior(0.0, pulls, shape, shape * spread**2 / (1 + 1 / pulls))


@dataclass(frozen=True)
class Calibration:
    """What is believed of one soil after n pulls.

    bias_factor : measured over estimated, the middle of the belief
    interval : the same from its 5th to its 95th percentile
    sigma_ln : spread of the next pull as the logarithm's standard deviation, matched at the
        tenth and ninetieth percentile
    left_out : pulls not used, for they were estimated with other constants
    """

    soil_code: str
    bias_factor: float
    interval: tuple[float, float]
    sigma_ln: float
    n: int
    left_out: int = 0
    parameter_set: str = ""

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


def posterior(log_ratios: Sequence[float], prior: Prior) -> Prior:
    """Return the belief after the pulls, in closed form."""
    n = len(log_ratios)
    if not n:
        return prior
    mean = math.fsum(log_ratios) / n
    scatter = math.fsum((value - mean) ** 2 for value in log_ratios)
    pulls = prior.pulls + n
    pulled = prior.pulls * n * (mean - prior.mean) ** 2 / pulls
    return Prior(
        mean=(prior.pulls * prior.mean + n * mean) / pulls,
        pulls=pulls,
        shape=prior.shape + n / 2,
        scale=prior.scale + (scatter + pulled) / 2,
    )


def bias_interval(belief: Prior, level: float = 0.9) -> tuple[float, float]:
    """Return the central interval of the bias factor."""
    half = _student_quantile((1 + level) / 2, 2 * belief.shape) * math.sqrt(
        belief.scale / (belief.shape * belief.pulls)
    )
    return math.exp(belief.mean - half), math.exp(belief.mean + half)


def next_pull_sigma_ln(belief: Prior) -> float:
    """Return the spread of the next pull, the bias's own doubt included."""
    scale = math.sqrt(belief.scale / belief.shape * (1 + 1 / belief.pulls))
    return scale * _student_quantile(0.9, 2 * belief.shape) / Z90


def calibrate(
    observations: Iterable[Observation],
    prior: Prior | None = None,
    parameter_set: str | None = None,
) -> dict[str, Calibration]:
    """Return what is believed of each soil in which a pull was accepted, by its code.

    Only pulls estimated with the given set of constants count (the shipped set if None); others
    are counted in `left_out`, for a change of constants changes what their ratio means.
    """
    belief = prior or planning_prior()
    wanted = ParameterSet().id if parameter_set is None else parameter_set
    by_soil: dict[str, list[Observation]] = {}
    for observation in observations:
        by_soil.setdefault(observation.soil_code, []).append(observation)
    return {
        code: _calibration(code, pulls, belief, wanted) for code, pulls in sorted(by_soil.items())
    }


def narrowing(
    observations: Iterable[Observation],
    soil_code: str,
    prior: Prior | None = None,
    parameter_set: str | None = None,
) -> list[Calibration]:
    """Return the belief of one soil before any pull, then after each in the order given."""
    belief = prior or planning_prior()
    wanted = ParameterSet().id if parameter_set is None else parameter_set
    pulls = [o for o in observations if o.soil_code == soil_code and o.parameter_set == wanted]
    return [
        _calibration(soil_code, pulls[:count], belief, wanted) for count in range(len(pulls) + 1)
    ]


def _calibration(code: str, pulls: list[Observation], prior: Prior, wanted: str) -> Calibration:
    used = [pull.log_ratio for pull in pulls if pull.parameter_set == wanted]
    belief = posterior(used, prior)
    return Calibration(
        soil_code=code,
        bias_factor=math.exp(belief.mean),
        interval=bias_interval(belief),
        sigma_ln=next_pull_sigma_ln(belief),
        n=len(used),
        left_out=len(pulls) - len(used),
        parameter_set=wanted,
    )


def _student_quantile(probability: float, freedom: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))
