"""The posterior of the shares of lead against importance sampling and simulated towns.

The law of the prior is the model's own; the weights are scipy's binomial probabilities.
"""

import numpy as np
import pytest
from scipy import stats

from program.planning.unknowns import LineFeatures, lead_shares
from program.planning.unknowns.shares import SPREADS
from tests.bench.coverage import coverage


def _prior_sample(rng, size: int) -> list:
    """Log odds of the cells of two neighborhoods and two decades, drawn from the model's prior."""
    weight = np.array([s * np.exp(-(s**2) / 2) for s in SPREADS])
    by_decade, by_hood, by_cell = rng.choice(SPREADS, (3, size), p=weight / weight.sum())
    level = rng.normal(0, 3, size)
    decades, hoods = (rng.normal(0, 1, (2, size)) for _ in range(2))
    return [
        level + by_decade * decade + by_hood * hood + by_cell * rng.normal(0, 1, size)
        for hood in hoods
        for decade in decades
    ]


@pytest.mark.parametrize(
    "counts",
    [
        ((1, 3), (0, 4), (2, 5), (0, 2)),
        ((0, 12), (1, 10), (0, 3), (0, 0)),
        ((6, 8), (9, 30), (0, 0), (1, 20)),
    ],
)
def test_posterior_shares_are_those_of_weighing_draws_from_the_prior(counts):
    """Importance sampling with scipy's binomial law: slow, exact in the limit, and not our code."""
    cells = [(hood, decade) for hood in "AB" for decade in (1900, 1950)]
    verified = [
        LineFeatures(f"{cell}{n}", None, None, *cell, is_lead=n < k)
        for cell, (k, size) in zip(cells, counts, strict=True)
        for n in range(size)
    ]
    ours = lead_shares(verified).draws(cells, 20_000, 3)
    odds = _prior_sample(np.random.default_rng(5), 300_000)
    shares = [1 / (1 + np.exp(-each)) for each in odds]
    weight = np.prod(
        [stats.binom.pmf(k, n, p) for (k, n), p in zip(counts, shares, strict=True)], axis=0
    )
    weight /= weight.sum()
    for own, share in zip(ours, shares, strict=True):
        mean = weight @ share
        assert own.mean() == pytest.approx(mean, abs=0.01)
        # Where next to nothing was verified ours is the wider: never much narrower.
        assert 0.95 <= own.std() / np.sqrt(weight @ (share - mean) ** 2) <= 1.5
        order = np.argsort(share)
        for level in (0.05, 0.95):
            at = share[order][np.searchsorted(np.cumsum(weight[order]), level)]
            assert np.mean(own <= at) == pytest.approx(level, abs=0.025)


def test_the_intervals_of_expected_lead_hold_the_truth_nine_times_in_ten():
    """Simulated towns, known shares; the whole table: python -m tests.bench coverage."""
    held = coverage(hoods=8, verified=120, unknown=2_000, towns=60)
    assert 0.82 <= held["town"] <= 0.97  # 60 towns tell to 4 in 100
    assert 0.87 <= held["neighborhood"] <= 0.95
