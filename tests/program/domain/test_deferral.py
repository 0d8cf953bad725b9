"""Deferred and shortened deadlines; D1 to D7 are constructed from the formula."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from program.domain.deferral import (
    DeadlineKind,
    deadline_in_force,
    deferral,
    deferral_by_setting,
    deferred_deadline,
    shortened_deadline,
    shown_annual_number,
    standard_deadline,
    years_and_months,
)
from program.domain.regulation import RULES
from tests.program.domain.test_calendar import override

# lead, GRR, unknown, connections; annual number; eligible; years by known; rate %; years by pool
CASES = {
    "D1": (400, 100, 0, 1000, 39, True, 12.8205, 7.8, 12.8205),
    "D2": (390, 0, 0, 1000, 39, False, 10, 10, 10),
    "D3": (391, 0, 0, 1000, 39, True, 10.0256, 9.9744, 10.0256),
    "D4": (60_000, 2_000, 38_000, 150_000, 5_850, True, 10.5983, 9.4355, 17.0940),
    "D5": (8_000, 1_000, 500, 20_000, 780, True, 11.5385, 8.6667, 12.1795),
    "D6": (7_000, 800, 900, 20_000, 780, False, 10, 10, 10),
    "D7": (20_000, 0, 0, 20_000, 780, True, 25.6410, 3.9, 25.6410),
}


@pytest.mark.parametrize("case", CASES)
def test_test_length_and_rate(case):
    lead, grr, unknown, connections, annual, eligible, years, rate, by_pool = CASES[case]
    found = deferral(lead + grr, connections)
    assert (found.eligible, found.annual_number) == (eligible, annual)
    assert round(float(found.years), 4) == years
    assert round(float(100 * found.rate), 4) == rate
    whole = deferral(lead + grr, connections, pool=lead + grr + unknown)
    assert round(float(whole.years), 4) == by_pool


def test_unknown_lines_do_not_open_the_door():
    assert not deferral(390, 1000, pool=900).eligible


def test_d4_by_the_pool_has_the_lower_rate():
    assert deferral(62_000, 150_000, pool=100_000).rate == Fraction(585, 10_000)


def test_the_setting_says_which_lines_are_divided():
    by_pool = RULES.with_overrides([override("DEFERRAL_NUMERATOR", "POOL")])
    assert deferral_by_setting(9_000, 20_000, 9_500) == deferral(9_000, 20_000)
    found = deferral_by_setting(9_000, 20_000, 9_500, by_pool)
    assert found == deferral(9_000, 20_000, 9_500)
    wrong = RULES.with_overrides([override("DEFERRAL_NUMERATOR", "BOTH")])
    with pytest.raises(ValueError, match="KNOWN or POOL"):
        deferral_by_setting(9_000, 20_000, 9_500, wrong)


@given(st.integers(1, 10**6), st.integers(1, 10**6))
def test_years_times_the_annual_number_are_the_lines(known, connections):
    found = deferral(known, connections)
    assume(found.eligible)
    assert found.years * found.annual_number == known
    assert found.years * found.rate == 1
    assert found.years > 10


@given(st.integers(1, 10**6))
def test_the_longest_deferral_is_where_every_connection_is_lead(connections):
    assert deferral(connections, connections).years == Fraction(1000, 39)


@pytest.mark.parametrize(
    ("known", "connections", "pool"), [(-1, 10, None), (5, 0, None), (5, 10, 0)]
)
def test_counts_that_cannot_be_are_a_sentence(known, connections, pool):
    with pytest.raises(ValueError, match="give"):
        deferral(known, connections, pool)


def test_rounding_of_number_and_length_can_be_switched():
    found = deferral(9_001, 20_010)
    other = RULES.with_overrides(
        [
            override("DEFERRAL_ANNUAL_ROUNDING", "DOWN"),
            override("DEFERRAL_LENGTH_ROUNDING", "UP"),
        ]
    )
    assert found.annual_number == Fraction(78039, 100)
    assert shown_annual_number(found) == 781
    assert shown_annual_number(found, other) == 780
    assert years_and_months(Fraction(500, 39)) == (12, 9)
    assert years_and_months(Fraction(500, 39), other) == (12, 10)
    assert years_and_months(Fraction(12)) == (12, 0)


def test_the_deferred_day_continues_the_program_years():
    found = deferred_deadline(deferral(500, 1000))
    assert found.kind is DeadlineKind.DEFERRED
    assert found.last_day == date(2040, 9, 30)
    assert found.rate == Fraction(39, 500)
    assert "12 program years and 9 months" in found.how_computed
    with pytest.raises(ValueError, match="not eligible"):
        deferred_deadline(deferral(390, 1000))


def test_the_ordinary_deadline():
    found = standard_deadline()
    assert (found.last_day, found.rate) == (date(2037, 12, 31), Fraction(1, 10))


def test_a_shortened_deadline_asks_for_one_over_its_years():
    found = shortened_deadline(date(2034, 12, 31), date(2028, 5, 2), letter="letter 12")
    assert found.rate == Fraction(1, 7)
    assert "letter 12" in found.how_computed
    own = shortened_deadline(date(2034, 12, 31), date(2028, 5, 2), rate=Fraction(1, 6))
    assert own.rate == Fraction(1, 6)


@pytest.mark.parametrize("day", [date(2027, 10, 31), date(2037, 12, 31), date(2040, 1, 1)])
def test_a_shortened_deadline_is_shorter(day):
    with pytest.raises(ValueError, match="does not lie between"):
        shortened_deadline(day, date(2027, 5, 2))


def test_a_deadline_set_for_later_does_not_stand_on_an_earlier_day():
    """A year's file names the deadline of that year, whatever the State wrote since."""
    day, first = date(2034, 12, 31), date(2031, 3, 1)
    rules = RULES.with_overrides([override("REPLACEMENT_DEADLINE", day, effective_from=first)])
    assert deadline_in_force(rules).last_day == day
    assert deadline_in_force(rules, first).last_day == day
    ordinary = standard_deadline(RULES).last_day
    assert deadline_in_force(rules, date(2030, 12, 31)).last_day == ordinary
