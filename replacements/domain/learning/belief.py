"""What is believed of the logarithm of measured over estimated force, before and after pulls.

It is taken as normal about a bias, both the bias and the scatter unknown. The prior says "no bias,
factor of two"; it is worth a couple of pulls, so a first pull moves the estimate a little and the
tenth moves it little more than the data ask.

While every pull is known exactly the belief is the conjugate normal-inverse-gamma, in closed form.
A pull that stopped, or was not accepted, is known only to need at least the force that it reached:
it is right-censored there, and the belief is summed over a grid of bias and scatter. Leaving such
pulls out would make the scatter look small, for they are the hard ones.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import NamedTuple

from replacements.domain.pull_force.parameters import ParameterSet

LEVEL = 0.8  # every range of this program holds eight in ten
Z90 = NormalDist().inv_cdf((1 + LEVEL) / 2)
_BIASES, _SCATTERS = 121, 61  # nodes of the grid
_FAR = 4.0  # how far the grid reaches, in the logarithm: a factor of fifty


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


class Belief(NamedTuple):
    """Percentiles of the bias and of the next pull's log ratio: 10, 50 and 90."""

    low: float
    middle: float
    high: float
    next_low: float
    next_high: float


def planning_prior(sigma_ln: float | None = None, pulls: float = 2.0, shape: float = 4.0) -> Prior:
    """Return a prior without bias whose next pull spreads by `sigma_ln`; shipped SIGMA_LN if None.

    The spread is matched at the tenth and ninetieth percentile, so that before any pull the
    calibrated range equals the plain one. Two pulls and a shape of four are judgment.
    """
    sigma = ParameterSet()["SIGMA_LN"] if sigma_ln is None else sigma_ln
    spread = sigma * Z90 / _student_quantile(0.9, 2 * shape)
    return Prior(0.0, pulls, shape, shape * spread**2 / (1 + 1 / pulls))


def posterior(log_ratios: Sequence[float], prior: Prior) -> Prior:
    """Return the belief after pulls that are known exactly, in closed form."""
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


def bias_interval(belief: Prior, level: float = LEVEL) -> tuple[float, float]:
    """Return the central interval of the bias factor."""
    half = _student_quantile((1 + level) / 2, 2 * belief.shape) * math.sqrt(
        belief.scale / (belief.shape * belief.pulls)
    )
    return math.exp(belief.mean - half), math.exp(belief.mean + half)


def next_pull_sigma_ln(belief: Prior) -> float:
    """Return the spread of the next pull, the bias's own doubt included."""
    scale = math.sqrt(belief.scale / belief.shape * (1 + 1 / belief.pulls))
    return scale * _student_quantile(0.9, 2 * belief.shape) / Z90


def after_agreeing(pulls: int, scatter: float) -> float:
    """Return the spread of the next pull after some that scatter by so much about no bias."""
    ratios = [scatter if number % 2 else -scatter for number in range(pulls)]
    return next_pull_sigma_ln(posterior(ratios, planning_prior()))


def beliefs(
    log_ratios: Sequence[float],
    stopped: Sequence[bool],
    prior: Prior,
    counts: Iterable[int],
) -> list[Belief]:
    """Return the belief after the first so many pulls, for each of the counts in rising order.

    stopped : of each pull, whether its ratio is only the least that it can have been
    """
    first = next((at for at, held in enumerate(stopped) if held), len(stopped))
    grid = _Grid(log_ratios, prior) if first < len(stopped) else None
    found = []
    for count in counts:
        if grid is None or count <= first:
            found.append(_in_closed_form(posterior(log_ratios[:count], prior)))
        else:
            found.append(grid.belief(log_ratios[:count], stopped[:count]))
    return found


def _in_closed_form(belief: Prior) -> Belief:
    low, high = (math.log(end) for end in bias_interval(belief))
    half = Z90 * next_pull_sigma_ln(belief)
    return Belief(low, belief.mean, high, belief.mean - half, belief.mean + half)


class _Grid:
    """Nodes of bias and logarithm of scatter, dense where the pulls would put them if exact."""

    def __init__(self, log_ratios: Sequence[float], prior: Prior):
        import numpy

        exact = posterior(log_ratios, prior)
        width = math.sqrt(exact.scale / (exact.shape * exact.pulls))
        bias, bias_step = _spread_nodes(exact.mean, width, _BIASES, numpy)
        center = math.log(exact.scale / exact.shape) / 2
        scatter, scatter_step = _spread_nodes(
            center, 0.5 / math.sqrt(exact.shape), _SCATTERS, numpy
        )
        self.bias, self.sigma = bias[:, None], numpy.exp(scatter)[None, :]
        self.steps = numpy.log(bias_step[:, None] * scatter_step[None, :])
        self.prior = (
            -(2 * prior.shape + 1) * numpy.log(self.sigma)
            - (prior.scale + prior.pulls * (self.bias - prior.mean) ** 2 / 2) / self.sigma**2
        )
        self.held = numpy.zeros((_BIASES, _SCATTERS))
        self.counted = 0

    def belief(self, log_ratios: Sequence[float], stopped: Sequence[bool]) -> Belief:
        """Return the belief after these pulls; each call goes on from the one before."""
        import numpy

        exact = [y for y, held in zip(log_ratios, stopped, strict=True) if not held]
        self._count_held([y for y, held in zip(log_ratios, stopped, strict=True) if held])
        squares = math.fsum(y * y for y in exact)
        off = squares - 2 * self.bias * math.fsum(exact) + len(exact) * self.bias**2
        known = len(exact) * numpy.log(self.sigma) + off / (2 * self.sigma**2)
        log_weight = self.prior - known + self.held + self.steps
        weight = numpy.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        return Belief(*self._bias_quantiles(weight, numpy), *self._next_quantiles(weight))

    def _count_held(self, ratios: Sequence[float]) -> None:
        from scipy.special import log_ndtr

        for ratio in ratios[self.counted :]:
            self.held = self.held + log_ndtr((self.bias - ratio) / self.sigma)
        self.counted = len(ratios)

    def _bias_quantiles(self, weight, numpy) -> list[float]:
        shares = weight.sum(axis=1)
        below = numpy.cumsum(shares) - shares / 2
        return [float(numpy.interp(p, below, self.bias[:, 0])) for p in (0.1, 0.5, 0.9)]

    def _next_quantiles(self, weight) -> list[float]:
        from scipy.optimize import brentq
        from scipy.special import ndtr

        def above(ratio: float, share: float) -> float:
            return float((weight * ndtr((ratio - self.bias) / self.sigma)).sum()) - share

        far = 3 * _FAR
        return [brentq(above, -far, far, args=(share,), xtol=1e-4) for share in (0.1, 0.9)]


def _spread_nodes(center: float, width: float, count: int, numpy):
    """Return nodes dense about a center and reaching far, and the length each stands for."""
    reach = math.asinh(_FAR / width)
    at = numpy.linspace(-reach, reach, count)
    return center + width * numpy.sinh(at), width * numpy.cosh(at) * (at[1] - at[0])


def _student_quantile(probability: float, freedom: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))
