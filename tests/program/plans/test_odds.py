"""The forecast continued from where the program stands, against arithmetic."""

from fractions import Fraction

import pytest

from program.operations.plans.horizon import _just_in_time, _part
from program.planning.forecast import (
    BadForecast,
    ForecastCase,
    ForecastGroup,
    Uncertainty,
    crews_needed,
    cut_off,
    forecast,
)

CERTAIN = Uncertainty((0, 1), 0.0, 0.0, (0, 0), 0.0, 0.0, 0.0)


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
        "past_rates": (Fraction(1, 10),) * 3,
        "complete_complies": True,
    }
    return ForecastCase(**{**values, **more})


KNOWN = tuple(ForecastGroup(year, "Mill", 12, 0) for year in (4, 5, 6))


def test_without_uncertainty_the_average_is_that_of_all_years_by_hand():
    # Years 1 to 3 at 8, 9 and 10%; 4 done already of year 4, then 12 of 100 in each year.
    past = (Fraction(8, 100), Fraction(9, 100), Fraction(10, 100))
    found = forecast(case(KNOWN, past_rates=past, already_replaced=4))
    middle = [row[2] for row in found.fan]
    assert middle == pytest.approx([0.43 / 4, 0.55 / 5, 0.67 / 6])
    assert found.complies == {4: 1.0, 5: 1.0, 6: 1.0}


def test_bad_years_before_keep_the_average_low_until_all_is_done():
    found = forecast(case(KNOWN, past_rates=(Fraction(0),) * 3))
    assert [row[2] for row in found.fan] == pytest.approx([0.12 / 4, 0.24 / 5, 0.36 / 6])
    # Year 6 replaces the last line: a program without lines left is complete.
    assert found.complies == {4: 0.0, 5: 0.0, 6: 1.0}


def test_a_complete_program_complies_only_where_that_is_asked():
    slow = case(KNOWN, past_rates=(Fraction(0),) * 3, complete_complies=False)
    assert forecast(slow).complies == {4: 0.0, 5: 0.0, 6: 0.0}


def test_money_ends_a_year_before_the_crews_do():
    # $1,000 a job, $100 an inspection, none of ten unknown lines lead: 4 jobs paid for in year 5.
    unknown = ForecastGroup(5, "Quay", 0, 10, (0.0,))
    found = forecast(
        case(
            (*KNOWN, unknown),
            budgets=(None, 5_000, 20_000),
            cost_per_job=1_000,
            cost_per_inspection=100,
        )
    )
    assert found.mean_replaced == (12, 4, 20)
    assert found.short_of_money == {4: 0.0, 5: 1.0, 6: 0.0}
    assert found.finished_by == {4: 0.0, 5: 0.0, 6: 1.0}
    assert any("The budget, not the crews" in one for one in found.sentences())


def test_dear_jobs_in_half_of_the_runs_leave_half_of_them_short():
    # A budget for 12 jobs at the planned cost: above it half the time, whatever the spread.
    unsure = Uncertainty((0, 1), 0.0, 0.0, (0, 0), 0.0, 0.0, 0.2)
    rich = case(KNOWN, runs=4_000, uncertainty=unsure, budgets=(12_000,) * 3, cost_per_job=1_000)
    assert forecast(rich).finished_by[6] == pytest.approx(0.5, abs=0.03)


def test_years_after_the_last_planned_one_catch_up_until_all_is_due():
    slow = case(KNOWN, years=(4, 5, 6, 7, 8), crews=(1.0,) * 5, crew_days=8, due_year=8)
    found = forecast(slow)
    # 36 lines at 8 a year: four years and a half.
    assert found.finished_by == {4: 0.0, 5: 0.0, 6: 0.0, 7: 0.0, 8: 1.0}
    assert found.years == (4, 5, 6) and len(found.fan) == 3
    assert found.finishes == 1.0 and found.due_year == 8


def test_part_of_a_year_gives_its_part_of_the_work():
    found = forecast(case(KNOWN, crew_days=12, year_parts=(0.5, 1.0, 1.0)))
    assert found.mean_replaced == (6, 12, 12)


def test_more_crews_are_asked_for_only_where_they_help():
    said = crews_needed(case(KNOWN, crew_days=6)).sentence
    # 6 jobs a crew and year against 12 planned: two crews, by hand.
    assert said.startswith("2 crews in every year reach over 99%; 1 reaches under 1%")
    poor = case(KNOWN, budgets=(1_000,) * 3, cost_per_job=1_000)
    assert "the budget is spent" in crews_needed(poor).sentence
    assert cut_off(0.9999) == cut_off(1.0) == "over 99%"
    assert cut_off(0.99) == "99%" and cut_off(0.989) == "98%"
    assert cut_off(0.0) == "under 1%" and cut_off(0.01) == "1%"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"past_rates": ()}, "give one for each of the 3 years before"),
        ({"due_year": 9}, "due by program year 9, which is not forecast"),
        ({"budgets": (1.0,)}, "a budget for every program year"),
        ({"budgets": (1.0, -1.0, 1.0)}, "numbers, zero or more"),
        ({"years": (4, 6, 7)}, "must follow each other"),
    ],
)
def test_a_forecast_that_cannot_be_is_told(change, words):
    with pytest.raises(BadForecast, match=words):
        forecast(case((), **change))


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
    # Pool 100 each year, 10% asked: 10 a year; 61 lines hold six years, 65 with the slack too.
    years = [_Year(year, 100) for year in range(1, 11)]
    assert _just_in_time(years, Fraction(0), 64, Fraction(1, 10)) == 6
    assert _just_in_time(years, Fraction(0), 200, Fraction(1, 10)) == 10
