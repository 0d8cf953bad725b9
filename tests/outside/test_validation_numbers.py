"""The validation numbers against statistics that others wrote.

The finite-population sample size is W. G. Cochran, Sampling Techniques, 3rd ed. 1977, section 4.4;
the exact interval is C. J. Clopper and E. S. Pearson, Biometrika 26 (1934).
"""

from collections import Counter
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from services_inventory.domain.regulation import inventory_rules
from services_inventory.domain.validation import draw, error_interval, required_validations
from tests.examples import examples

DOUBTFUL_ROW = 10_000


def cochran(pool: float, margin: float = 0.05, confidence: float = 0.95) -> float:
    """Sample size for a share of one half in a finite population."""
    z = stats.norm.ppf((1 + confidence) / 2)
    unlimited = z**2 * 0.25 / margin**2
    return unlimited / (1 + (unlimited - 1) / pool)


def rows() -> list[tuple[float, int]]:
    table = inventory_rules().latest("VALIDATION_TABLE").value
    return [*table, (inf, inventory_rules().latest("VALIDATION_LARGEST_COUNT").value)]


@pytest.mark.parametrize("row", rows(), ids=lambda row: str(row[0]))
def test_each_row_is_the_formula_at_its_upper_end(row):
    upper_end, count = row
    expected = round(cochran(upper_end))
    if upper_end == DOUBTFUL_ROW:
        assert (expected, count) == (370, 371)  # flagged in the value's source
        assert "370" in inventory_rules().latest("VALIDATION_TABLE").source
    else:
        assert count == expected


@pytest.mark.parametrize("pool", [1501, 2500, 5000, 9000, 40_000, 500_000])
def test_number_reaches_five_percent_within_rounding(pool):
    assert required_validations(pool) >= cochran(pool) - 0.5


@examples(100)
@given(
    st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    st.sampled_from([0.9, 0.95, 0.99]),
)
def test_interval_agrees_with_statsmodels_and_scipy(found_of, confidence):
    found, validated = found_of
    low, high = error_interval(found, validated, confidence)
    theirs = proportion_confint(found, validated, alpha=1 - confidence, method="beta")
    exact = stats.binomtest(found, validated).proportion_ci(confidence, method="exact")
    assert (low, high) == pytest.approx(theirs, abs=1e-9)
    assert (low, high) == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_interval_of_nothing_found_is_the_rule_of_three():
    """With none found of n, the one-sided 95 % limit is near 3/n (Hanley, JAMA 249, 1983)."""
    _, high = error_interval(0, 384, confidence=0.90)
    assert high == pytest.approx(3 / 384, rel=0.01)


def test_every_line_is_drawn_equally_often():
    """Chi-square over 2,000 seeds; the seeds are fixed, so the outcome is too."""
    drawn = Counter(line for seed in range(2000) for line in draw(range(20), 5, seed))
    assert sum(drawn.values()) == 10_000
    assert stats.chisquare([drawn[line] for line in range(20)]).pvalue > 0.001


def test_pairs_are_drawn_as_often_as_without_replacement():
    pairs = Counter(tuple(sorted(draw(range(6), 2, seed))) for seed in range(3000))
    assert len(pairs) == 15
    assert stats.chisquare(list(pairs.values())).pvalue > 0.001
