"""The forecast: right where nothing is uncertain, repeatable, quick."""

import time
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from program.planning.charts import fan_chart_svg
from program.planning.forecast import (
    BadForecast,
    ForecastCase,
    ForecastGroup,
    Uncertainty,
    crews_needed,
    forecast,
)
from program.planning.forecast.playing import drawn

CERTAIN = Uncertainty((0, 1), 0.0, 0.0, (0, 0), 0.0)


def _case(replaced, pool, uncertainty=CERTAIN, unknown=(), **changes):
    years = tuple(range(1, len(replaced) + 1))
    groups = tuple(ForecastGroup(y, "H", n, 0) for y, n in zip(years, replaced, strict=True))
    values = {
        "first_pool": pool,
        "groups": groups + tuple(unknown),
        "years": years,
        "crews": (50.0,) * len(years),
        "crew_days": 200,
        "jobs_per_crew_day": 2.0,
        "required_rate": 0.1,
        "first_assessed_year": 3,
        "uncertainty": uncertainty,
        "runs": 200,
    }
    return ForecastCase(**(values | changes))


def test_without_uncertainty_the_fan_is_the_rate():
    """Case C1: pools of 1,000; 50, 100, 150, 100 replaced; cumulative 5, 7.5, 10, 10 %."""
    told = forecast(_case((50, 100, 150, 100), 1000))
    assert [row[2] for row in told.fan] == pytest.approx([0.05, 0.075, 0.1, 0.1])
    assert all(max(row) == pytest.approx(min(row)) for row in told.fan)
    # Exactly ten in a hundred meets ten in a hundred.
    assert told.complies == {3: 1.0, 4: 1.0}
    assert told.finishes == 1.0


def test_unknown_lines_found_non_lead_leave_the_pool_next_year():
    """Constructed: 1,200 lines; 100 unknown found non-lead in year 1: 110 of 1,100 is 10 %."""
    unknown = (ForecastGroup(1, "U", 0, 100, (0.0,)),)
    told = forecast(_case((120, 110, 110), 1200, unknown=unknown))
    assert [row[2] for row in told.fan] == pytest.approx([0.1, 0.1, 0.1])


def test_unknown_lines_found_lead_are_replaced_and_stay_in_the_pool():
    unknown = (ForecastGroup(1, "U", 0, 100, (1.0,)),)
    told = forecast(_case((0, 0, 0), 1000, unknown=unknown))
    assert told.mean_replaced == (100, 0, 0)
    assert told.fan[0][2] == pytest.approx(0.1)


def test_too_few_crews_leave_work_waiting():
    told = forecast(_case((100, 100, 100), 1000, crews=(1.0,) * 3, crew_days=40))
    assert told.mean_replaced == (80, 80, 80)
    assert (told.complies[3], told.finishes) == (0.0, 0.0)


def test_crews_with_time_left_start_later_work_only_where_allowed():
    busy = _case((50, 100, 150), 1000)
    ahead = forecast(replace(busy, work_ahead=True))
    assert ahead.mean_replaced == (300, 0, 0)
    assert forecast(busy).mean_replaced == (50, 100, 150)


def test_same_seed_same_forecast_and_another_seed_another():
    case = _case((110, 110, 110), 1000, Uncertainty(), crews=(3.0,) * 3, crew_days=40)
    assert forecast(case) == forecast(case)
    assert forecast(replace(case, seed=2)) != forecast(case)


def test_no_number_of_crews_helps_against_refusals():
    case = _case((100, 100, 100), 1000, Uncertainty((20, 80), 0.1, 0.1, (0, 5), 0.0))
    told = crews_needed(case)
    assert told.crews is None
    assert "too many owners refuse" in told.sentence


def test_ten_thousand_runs_of_thirty_neighborhoods_take_seconds():
    groups = tuple(
        ForecastGroup(year, f"H{hood}", 40, 20, (0.2, 0.4, 0.6))
        for year in range(1, 11)
        for hood in range(30)
    )
    case = _case((0,) * 10, 18_000, Uncertainty(), unknown=groups, runs=10_000)
    start = time.perf_counter()
    told = forecast(case)
    assert time.perf_counter() - start < 10
    assert told.runs == 10_000
    assert all(list(row) == sorted(row) for row in told.fan)


def test_picture_says_its_figures_in_words():
    told = forecast(_case((50, 100, 150, 100), 1000))
    picture = ElementTree.fromstring(fan_chart_svg(told))
    text = " ".join(picture.itertext())
    assert "Year 3: middle 10.00%" in text
    assert "required 10.00%" in text


def test_the_fan_fills_its_picture_and_says_where_the_scale_begins():
    told = forecast(_case((100, 101, 100, 100), 1000, Uncertainty((0, 1), 0.01, 0.01, (0, 0), 0.0)))
    picture = fan_chart_svg(told)
    assert "the scale begins at" in picture
    points = ElementTree.fromstring(picture).iter("{http://www.w3.org/2000/svg}polygon")
    heights = [float(pair.split(",")[1]) for band in points for pair in band.get("points").split()]
    assert max(heights) - min(heights) > 0.6 * (278 - 34)
    assert all(34 <= height <= 278 for height in heights)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"first_pool": 0}, "pool is empty"),
        ({"crews": (1.0,)}, "number of crews for every program year"),
        ({"runs": 0}, "one or more"),
        ({"groups": (ForecastGroup(9, "H", 1, 0),)}, "program year 9"),
        ({"uncertainty": Uncertainty((0, 0))}, "not both 0"),
    ],
)
def test_faulty_case_is_told(change, sentence):
    with pytest.raises(BadForecast, match=sentence):
        forecast(replace(_case((1, 1, 1), 10), **change))


def test_runs_are_dealt_from_all_draws_and_alike_in_all_neighborhoods():
    """Sorted draws: a few runs that took the first of them would find no lead anywhere."""
    draws = (0.0,) * 500 + (1.0,) * 500
    groups = tuple(ForecastGroup(1, hood, 0, 100, draws) for hood in ("A", "B"))
    found = drawn(_case((0, 0, 0), 1000, groups=groups)).cleared[:, 0]
    assert set(found) == {0.0, 200.0}  # both or neither
    assert 60 <= (found == 0).sum() <= 140
