"""What pulls teach, held to a grid integration, to scipy and to ordinary least squares."""

import math

import numpy
import pytest
import statsmodels.api
from scipy import stats

from replacements.domain.learning import (
    Prior,
    bias_interval,
    next_pull_sigma_ln,
    planning_prior,
    posterior,
)

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
    found = [math.log(end) for end in bias_interval(belief)]
    assert found == pytest.approx([low, high], abs=4e-3)


def test_flat_prior_is_ordinary_least_squares():
    """Intercept alone, its t interval and residual variance, by statsmodels."""
    fit = statsmodels.api.OLS(RATIOS, numpy.ones(len(RATIOS))).fit()
    belief = posterior(RATIOS, Prior(mean=0, pulls=0, shape=-0.5, scale=0))
    assert belief.mean == pytest.approx(fit.params[0])
    assert belief.scale / belief.shape == pytest.approx(fit.mse_resid)
    found = [math.log(end) for end in bias_interval(belief)]
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
