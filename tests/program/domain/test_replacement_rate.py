"""Annual and cumulative rates; the cases C1 to C7 are constructed from the formula."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.replacement_rate import (
    REQUIRED_RATE,
    YearRecord,
    YearStatus,
    assess,
    needed_in_next_year,
)
from program.domain.shares import percent


def years(pools, replaced):
    return [YearRecord(pool, number) for pool, number in zip(pools, replaced, strict=True)]


# pools, replaced, annual %, cumulative % (six decimals), does year 3, 4, ... meet 10 %
CASES = {
    "C1": ([1000] * 4, [50, 100, 150, 100], [5, 10, 15, 10], [5, 7.5, 10, 10], [True, True]),
    "C2": (
        [2000, 1900, 1805, 1720],
        [150, 190, 220, 172],
        [7.5, 10, 12.188366, 10],
        [7.5, 8.75, 9.896122, 9.922091],
        [False, False],
    ),
    "C3": (
        [1200, 1100, 1060, 1065, 1065],
        [90, 110, 130, 107, 100],
        [7.5, 10, 12.264151, 10.046948, 9.389671],
        [7.5, 8.75, 9.921384, 9.952775, 9.840154],
        [False, False, False],
    ),
    "C4": ([1000, 950, 900], [90, 95, 95], [9, 10, 10.555556], [9, 9.5, 9.851852], [False]),
    "C5": ([1000, 950, 900], [100, 95, 90], [10, 10, 10], [10, 10, 10], [True]),
    "C6": ([3, 3, 3], [0, 0, 1], [0, 0, 33.333333], [0, 0, 11.111111], [True]),
}


@pytest.mark.parametrize("case", CASES)
def test_rates_and_verdicts(case):
    pools, replaced, annual, cumulative, meets = CASES[case]
    found = assess(years(pools, replaced))
    assert [round(float(100 * year.annual), 6) for year in found] == annual
    assert [round(float(100 * year.cumulative), 6) for year in found] == cumulative
    assert [year.assessed for year in found] == [False, False, *[True] * len(meets)]
    assert [year.meets for year in found] == [None, None, *meets]


def test_c7_the_first_two_years_are_not_assessed_whatever_they_hold():
    found = assess(years([1000, 1000], [0, 0]))
    assert [year.status for year in found] == [YearStatus.NOT_ASSESSED] * 2


def test_the_mean_of_rates_is_not_the_total_over_the_last_pool():
    pools, replaced = CASES["C4"][:2]
    assert Fraction(sum(replaced), pools[-1]) > 3 * REQUIRED_RATE
    assert assess(years(pools, replaced))[-1].meets is False


@pytest.mark.parametrize(("replaced", "meets"), [(299, False), (300, True), (301, True)])
def test_both_sides_of_the_required_rate(replaced, meets):
    found = assess(years([1000] * 3, [0, 0, replaced]))
    assert found[-1].meets is meets


def test_exactly_the_rate_meets_it_however_the_rate_is_written():
    exactly = years([1000] * 3, [100] * 3)
    for rate in (Fraction(1, 10), 0.1, Decimal("0.1"), "0.1"):
        assert assess(exactly, rate)[-1].meets is True


@pytest.mark.parametrize("rate", [0, -1, 10, Fraction(11, 10), float("nan"), "ten"])
def test_a_rate_that_is_no_share_is_a_sentence(rate):
    with pytest.raises(ValueError, match="share|number"):
        assess([YearRecord(10, 1)], rate)


def test_an_empty_pool_is_complete_and_gives_no_rate():
    found = assess(years([100, 100, 0], [50, 50, 0]))
    assert found[-1].annual is None
    assert found[-1].status is YearStatus.COMPLETE
    assert found[-1].meets is True
    assert found[-1].cumulative == Fraction(1, 2)


def test_a_missing_pool_is_incomplete_and_never_nought_per_cent():
    found = assess([YearRecord(100, 10), YearRecord(None, 10), YearRecord(100, 90)])
    assert found[0].status is YearStatus.NOT_ASSESSED
    assert [year.status for year in found[1:]] == [YearStatus.INCOMPLETE] * 2
    assert found[1].annual is None
    assert found[2].annual == Fraction(9, 10)
    assert [(year.cumulative, year.meets) for year in found[1:]] == [(None, None)] * 2


@pytest.mark.parametrize("bad", [YearRecord(-1, 0), YearRecord(10, -1)])
def test_negative_numbers_name_the_year(bad):
    with pytest.raises(ValueError, match="Program year 2"):
        assess([YearRecord(10, 1), bad])


year_records = st.builds(YearRecord, st.integers(1, 10**6), st.integers(0, 10**6))


@given(st.lists(year_records, min_size=1, max_size=12), st.randoms())
def test_the_cumulative_rate_does_not_depend_on_the_order_of_the_years(records, random):
    shuffled = random.sample(records, len(records))
    assert assess(records)[-1].cumulative == assess(shuffled)[-1].cumulative


@given(st.lists(year_records, min_size=2, max_size=9), st.integers(1, 10**5))
def test_what_the_next_year_needs_is_enough_and_one_less_is_not(records, pool):
    needed = needed_in_next_year(records, pool)
    assert assess([*records, YearRecord(pool, needed)])[-1].meets is True
    if needed:
        assert assess([*records, YearRecord(pool, needed - 1)])[-1].meets is False


def test_what_the_next_year_needs_is_unknown_when_a_pool_is():
    with pytest.raises(ValueError, match="missing"):
        needed_in_next_year([YearRecord(None, 3)], 10)


def test_a_shown_rate_never_looks_reached():
    assert percent(Fraction(99999, 1000000)) == "9.99%"
    assert percent(Fraction(1, 10)) == "10%"
    assert percent(Fraction(5, 1000)) == "0.5%"
    assert percent(Fraction(12056, 100000)) == "12.05%"
    assert percent(Fraction(100, 1)) == "10000%"
