"""Settings as a planner writes them, read and written back."""

import pytest

from program.queries.planning.asked import PlanAsked
from program.views.plans import written


def test_every_form_of_line_is_read_and_written_back_the_same():
    crews = "1: 2\n2: 4\n3: 4"
    seasons = "Winter: 12-01 to 03-31, 1 crew\nDry: 06-01 to 09-30"
    closures = (
        "Saltmarket: 4, 5\nBrine St: closed 2028-04-01 to 2031-03-31\n"
        "Brine St: only 2032-06-01 to 2032-08-31\nAlder St: only in Dry, Winter"
    )
    quotas = "Gasworks: 15\nGasworks + Brine St: 20 in 1, 2, 3"
    figures = "Saltmarket: need index 7.5, lead results 3\nGasworks: coordinated work 1"
    off = "2028-07-03\n2028-12-24 to 2029-01-02"
    closed_years, windows = written.closures(closures)
    asked = PlanAsked.of(
        {
            "crews_by_year": written.crews_by_year(crews),
            "budget_by_year": written.budget_by_year("1: $2,500,000"),
            "seasons": written.seasons(seasons),
            "closed_years": closed_years,
            "windows": windows,
            "quotas": written.quotas(quotas),
            "figures": written.figures(figures),
            "days_off": written.days_off(off),
            "frost": [written.month_day("12-01"), written.month_day("3-15")],
        }
    )
    assert asked.crews_in(3) == 4 and asked.crews_in(9) is None
    assert asked.budget_in(1) == 2_500_000
    assert written.as_written(asked) == {
        "crews_by_year": crews,
        "budget_by_year": "1: 2,500,000",
        "seasons": seasons,
        "closures": closures,
        "quotas": quotas,
        "figures": figures,
        "days_off": off,
        "frost_from": "12-01",
        "frost_to": "03-15",
    }


def test_several_years_may_be_written_as_one():
    assert written.years_of("1-3, 7") == [1, 2, 3, 7]
    assert written.crews_by_year("2-4: 5") == {"2": 5, "3": 5, "4": 5}


@pytest.mark.parametrize(
    ("read", "line", "words"),
    [
        (written.crews_by_year, "3 4", "3-5: 4"),
        (written.crews_by_year, "3: many", "'3: many' can't be read"),
        (written.budget_by_year, ": 5", "2,500,000"),
        (written.seasons, "Winter: December", "12-01 to 03-31"),
        (written.closures, "Brine St: shut in May", "closed 2028-04-01"),
        (written.quotas, "Gasworks: much", "Gasworks: 15"),
        (written.figures, "Gasworks: beauty 4", "need index 7.5"),
        (written.month_day, "1 December", "month-day"),
    ],
)
def test_a_line_that_cannot_be_read_is_quoted_with_one_that_can(read, line, words):
    with pytest.raises(written.Unreadable, match=words):
        read(line)
