"""Priority scores: opened into parts that add up, reproducible, honest about gaps.

The 70/25/5 weights, the 0 to 1,000 scale and the 60/40 split are those of Milwaukee's published
prioritization plan; the figures of the places are invented.
"""

import csv
import io

import pytest

from program.planning.priority import (
    BadPriority,
    Factor,
    Normalization,
    WhenMissing,
    area_priority,
    default_factors,
    export_rows,
    missing,
    scores,
)

DEPRIVATION = (
    Factor("deprivation", "Deprivation index", 70, Normalization.MIN_MAX),
    Factor("blood_lead", "Children's blood lead", 25, per="children"),
    Factor("density", "Lead line density", 5, per="lines"),
)
PLACES = {
    "A": {"deprivation": 100, "blood_lead": 10, "children": 100, "density": 50, "lines": 100},
    "B": {"deprivation": 50, "blood_lead": 10, "children": 200, "density": 50, "lines": 50},
    "C": {"deprivation": 0, "blood_lead": 0, "children": 100, "density": 0, "lines": 80},
}


def test_published_weights_give_the_points_worked_by_hand():
    told = {score.place: score.points for score in scores(PLACES, DEPRIVATION)}
    # A: 700 + 250 + 50 x 0.5; B: 350 + 250 x 0.5 + 50.
    assert told == {"A": pytest.approx(975), "B": pytest.approx(525), "C": 0}


def test_parts_add_up_and_can_be_worked_out_again_from_the_export():
    for row in export_rows(scores(PLACES, DEPRIVATION)):
        again = sum(
            1000 * row[f"{key}_weight"] / 100 * row[f"{key}_normalized"]
            for key in ("deprivation", "blood_lead", "density")
        )
        assert row["points"] == pytest.approx(again, abs=1e-3)
    out = io.StringIO()
    writer = csv.DictWriter(out, export_rows(scores(PLACES, DEPRIVATION))[0])
    writer.writerows(export_rows(scores(PLACES, DEPRIVATION)))
    assert out.getvalue().startswith("A,1,975.0")


def test_order_of_places_does_not_matter_and_equals_share_a_rank():
    twins = {"Y": PLACES["A"], "X": PLACES["A"], "Z": PLACES["C"]}
    ranked = scores(dict(reversed(list(twins.items()))), DEPRIVATION)
    assert [(score.place, score.rank) for score in ranked] == [("X", 1), ("Y", 1), ("Z", 3)]


def test_missing_figure_is_told_and_stood_in_for():
    factors = (
        Factor("need", "Need index", 1, Normalization.MIN_MAX, when_missing=WhenMissing.MIDDLE),
    )
    places = {"A": {"need": 1}, "B": {"need": 3}, "C": {}}
    assert {s.place: s.points for s in scores(places, factors)} == {"A": 0, "B": 1000, "C": 500}
    assert missing(places, factors) == [
        "Need index is missing for C: the middle value was taken. Enter it, or set the weight to "
        "zero."
    ]


def test_low_income_ranks_high_where_asked():
    income = (Factor("income", "Income", 1, Normalization.RANK, high_first=False),)
    ranked = scores({"RICH": {"income": 90}, "POOR": {"income": 20}}, income)
    assert ranked[0].place == "POOR"


def test_settings_that_rank_nothing_are_refused():
    with pytest.raises(BadPriority, match="All weights are zero"):
        scores(PLACES, (Factor("deprivation", "Deprivation", 0),))
    with pytest.raises(BadPriority, match="no factors"):
        scores(PLACES, ())


def test_shipped_factors_weigh_a_hundred_in_all():
    assert sum(factor.weight for factor in default_factors()) == 100


def test_area_priority_rises_with_lead_and_with_need():
    assert area_priority(0, 10, 5) == 15
    assert area_priority(1000, 10, 5) == 30
