"""What pulls teach, held to a grid integration, to scipy and to ordinary least squares."""

import math

import numpy
import pytest
import statsmodels.api
from scipy import stats

from replacements.domain.learning import Prior, beliefs, planning_prior, posterior
from replacements.domain.learning.belief import bias_interval, next_pull_sigma_ln
from replacements.domain.pull_force import RANGE_COVERS
from replacements.domain.pull_force.spread import lognormal_range

RATIOS = [0.31, -0.22, 0.55, 0.08, 0.41, 0.12, -0.05]  # constructed


def test_belief_against_grid_integration():
    """Prior times likelihood summed over a fine grid of bias and variance."""
    prior = planning_prior()
    bias = numpy.linspace(-1.5, 1.5, 1201)[:, None]
    variance = numpy.exp(numpy.linspace(math.log(0.005), math.log(3), 900))[None, :]
    density = stats.invgamma.logpdf(variance, prior.shape, scale=prior.scale)
    density = density + stats.norm.logpdf(bias, prior.mean, numpy.sqrt(variance / prior.pulls))
    for ratio in RATIOS:
        density = density + stats.norm.logpdf(ratio, bias, numpy.sqrt(variance))
    weight = numpy.exp(density - density.max()) * variance
    marginal = weight.sum(axis=1) / weight.sum()
    mean = float((marginal * bias[:, 0]).sum())
    belief = posterior(RATIOS, prior)
    assert belief.mean == pytest.approx(mean, abs=1e-4)
    below = numpy.cumsum(marginal)
    low, high = (float(numpy.interp(p, below, bias[:, 0])) for p in (0.05, 0.95))
    found = [math.log(end) for end in bias_interval(belief, 0.9)]
    assert found == pytest.approx([low, high], abs=4e-3)


def test_flat_prior_is_ordinary_least_squares():
    """Intercept alone, its t interval and residual variance, by statsmodels."""
    fit = statsmodels.api.OLS(RATIOS, numpy.ones(len(RATIOS))).fit()
    belief = posterior(RATIOS, Prior(mean=0, pulls=0, shape=-0.5, scale=0))
    assert belief.mean == pytest.approx(fit.params[0])
    assert belief.scale / belief.shape == pytest.approx(fit.mse_resid)
    found = [math.log(end) for end in bias_interval(belief, 0.9)]
    assert found == pytest.approx(list(fit.conf_int(alpha=0.1)[0]))


def test_next_pull_against_statsmodels_prediction():
    fit = statsmodels.api.OLS(RATIOS, numpy.ones(len(RATIOS))).fit()
    low, high = fit.get_prediction([1.0]).conf_int(obs=True, alpha=0.2)[0]
    belief = posterior(RATIOS, Prior(mean=0, pulls=0, shape=-0.5, scale=0))
    half = stats.norm.ppf(0.9) * next_pull_sigma_ln(belief)
    assert [belief.mean - half, belief.mean + half] == pytest.approx([low, high])


def test_one_at_a_time_equals_all_at_once():
    belief = planning_prior()
    for ratio in RATIOS:
        belief = posterior([ratio], belief)
    whole = posterior(RATIOS, planning_prior())
    assert [belief.mean, belief.scale] == pytest.approx([whole.mean, whole.scale])


HELD = [0.31, -0.22, 0.55, 0.08, 0.9, 1.2]  # constructed; the last two stopped there
STOPPED = [False, False, False, False, True, True]


def test_stopped_pulls_against_a_plain_grid_of_bias_and_scatter():
    """Prior times normal density times the tail above each stop, summed over an even grid."""
    prior = planning_prior()
    bias = numpy.linspace(-3, 6, 901)[:, None]
    sigma = numpy.exp(numpy.linspace(math.log(0.05), math.log(5), 200))[None, :]
    density = stats.invgamma.logpdf(sigma**2, prior.shape, scale=prior.scale) + 2 * numpy.log(sigma)
    density = density + stats.norm.logpdf(bias, prior.mean, sigma / math.sqrt(prior.pulls))
    for ratio, stopped in zip(HELD, STOPPED, strict=True):
        law = stats.norm.logsf if stopped else stats.norm.logpdf
        density = density + law(ratio, bias, sigma)
    weight = numpy.exp(density - density.max())
    weight /= weight.sum()
    below = numpy.cumsum(weight.sum(axis=1))
    expected = [float(numpy.interp(p, below, bias[:, 0])) for p in (0.1, 0.5, 0.9)]
    levels = numpy.linspace(-4, 8, 241)
    next_below = [float((weight * stats.norm.cdf(y, bias, sigma)).sum()) for y in levels]
    expected += [float(numpy.interp(p, next_below, levels)) for p in (0.1, 0.9)]
    (found,) = beliefs(HELD, STOPPED, prior, [len(HELD)])
    assert list(found) == pytest.approx(expected, abs=0.012)


def test_a_stop_far_below_all_pulls_says_nothing_and_leaves_the_closed_form():
    ratios, prior = [*RATIOS, -3.0], planning_prior()
    closed, with_stop = beliefs(ratios, [False] * 7 + [True], prior, [7, 8])
    assert list(with_stop) == pytest.approx(list(closed), abs=0.006)


def test_many_stopped_pulls_against_scipys_censored_maximum_likelihood():
    """scipy.stats.norm.fit of right-censored data; 400 pulls, the hardest third stopped."""
    generator = numpy.random.default_rng(3)
    truth = generator.normal(0.35, 0.5, 400)
    limit = numpy.quantile(truth, 2 / 3)
    reached, stopped = numpy.minimum(truth, limit), truth > limit
    data = stats.CensoredData(uncensored=reached[~stopped], right=reached[stopped])
    mean, deviation = stats.norm.fit(data)
    (found,) = beliefs(list(reached), list(stopped), planning_prior(), [400])
    assert found.middle == pytest.approx(mean, abs=0.02)
    half = (found.next_high - found.next_low) / 2
    assert half / stats.norm.ppf(0.9) == pytest.approx(deviation, rel=0.04)


def held_share(leave_out: bool) -> float:
    """Return how often the next pull lies in its range, truths drawn from the prior (simulated).

    Twelve pulls each, stopped where they would need twice the estimate.
    """
    generator, prior, held, tried = numpy.random.default_rng(17), planning_prior(), 0, 400
    for _ in range(tried):
        sigma = math.sqrt(prior.scale / generator.gamma(prior.shape))
        bias = generator.normal(prior.mean, sigma / math.sqrt(prior.pulls))
        truth = generator.normal(bias, sigma, 13)
        reached, stopped = numpy.minimum(truth[:12], math.log(2)), truth[:12] > math.log(2)
        if leave_out:
            reached, stopped = reached[~stopped], stopped[~stopped]
        (found,) = beliefs(list(reached), list(stopped), prior, [len(reached)])
        held += found.next_low < truth[12] < found.next_high
    return held / tried


def test_the_range_of_the_next_pull_holds_eight_in_ten_and_fewer_without_the_stopped_ones():
    with_them, without = held_share(False), held_share(True)
    assert with_them == pytest.approx(0.8, abs=0.05)
    assert without < with_them - 0.02


def test_the_plain_range_covers_what_it_says():
    """A lognormal of spread 0.55: a factor of two either way holds 79 percent, 2.02 eighty."""
    assert stats.norm.cdf(math.log(2) / 0.55) * 2 - 1 == pytest.approx(0.79, abs=0.003)
    made = lognormal_range(1000, 0.55)
    inside = stats.lognorm.cdf([made.low_lbf, made.high_lbf], 0.55, scale=1000)
    assert list(inside) == pytest.approx([0.1, 0.9])
    assert "eight pulls in ten" in RANGE_COVERS
