"""The forecast continued from where the program stands, against arithmetic and the plain one."""

from fractions import Fraction

import pytest

from program.operations.plans.horizon import _just_in_time, _part
from program.operations.plans.odds import (
    Standing,
    crews_for_odds,
    cut_off,
    forecast_from,
)
from program.planning.forecast import ForecastCase, ForecastGroup, Uncertainty, forecast

CERTAIN = Uncertainty((0, 1), 0.0, 0.0, (0, 0), 0.0, 0.0)


def case(groups, **more):
    values = {
        "first_pool": 100,
        "groups": groups,
        "years": (4, 5, 6),
        "crews": (1.0, 1.0, 1.0),
        "crew_days": 100,
        "jobs_per_crew_day": 1.0,
        "required_rate": 0.1,
        "first_assessed_year": 3,
        "uncertainty": CERTAIN,
        "runs": 50,
    }
    return ForecastCase(**{**values, **more})


KNOWN = tuple(ForecastGroup(year, "Mill", 12, 0) for year in (4, 5, 6))


def test_without_uncertainty_the_average_is_that_of_all_years_by_hand():
    # Years 1 to 3 at 8, 9 and 10 %; 4 done already of year 4, then 12 of 100 in each year.
    past = (Fraction(8, 100), Fraction(9, 100), Fraction(10, 100))
    found = forecast_from(case(KNOWN), Standing(past, 4))
    middle = [row[2] for row in found.fan]
    assert middle == pytest.approx([0.43 / 4, 0.55 / 5, 0.67 / 6])
    assert found.complies == {4: 1.0, 5: 1.0, 6: 1.0}


def test_bad_years_before_keep_the_average_low_until_all_is_done():
    found = forecast_from(case(KNOWN), Standing((Fraction(0),) * 3, 0))
    assert [row[2] for row in found.fan] == pytest.approx([0.12 / 4, 0.24 / 5, 0.36 / 6])
    # Year 6 replaces the last line: a program without lines left is complete.
    assert found.complies == {4: 0.0, 5: 0.0, 6: 1.0}


def test_a_program_that_starts_now_is_the_plain_forecast():
    plain = case(
        tuple(ForecastGroup(year, "Mill", 10, 8, (2.0, 6.0)) for year in (1, 2, 3)),
        years=(1, 2, 3),
        uncertainty=Uncertainty(),
        runs=400,
    )
    mine, other = forecast_from(plain, Standing((), 0)), forecast(plain)
    assert mine.fan == other.fan and mine.finishes == other.finishes
    assert all(mine.complies[year] >= other.complies[year] for year in other.complies)


def test_more_crews_are_asked_for_only_where_they_help():
    slow = case(KNOWN, crew_days=6)
    said = crews_for_odds(slow, Standing((Fraction(1, 10),) * 3, 0), crews=1)
    # 6 jobs a crew and year against 12 planned: two crews, by hand.
    assert said.startswith("2 crews reach 100 %; 1 reach 0 %")
    none = case(KNOWN, uncertainty=Uncertainty((1, 0), 0.0, 0.0, (0, 0), 0.0, 0.0))
    assert "What holds the program back is not crews" not in said
    assert cut_off(0.9999) == "99 %" and cut_off(1.0) == "100 %"
    assert none.runs == 50


def test_parts_of_a_number_are_nearly_equal_and_lose_nothing():
    for total in range(12):
        for parts in (1, 2, 3, 5):
            found = [_part(total, parts, place) for place in range(parts + 2)]
            assert sum(found) == total and max(found[:parts]) - min(found[:parts]) <= 1


class _Year:
    already_replaced = 0

    def __init__(self, year, pool):
        self.year, self.pool = year, pool


def test_the_last_useful_year_by_hand():
    # Pool 100 each year, 10 % asked: 10 a year; 61 lines hold six years, 65 with the slack too.
    years = [_Year(year, 100) for year in range(1, 11)]
    assert _just_in_time(years, Fraction(0), 64, Fraction(1, 10)) == 6
    assert _just_in_time(years, Fraction(0), 200, Fraction(1, 10)) == 10
