"""The page of who waits how long: figures given with the plan, the stated order, the file."""

import csv
from io import StringIO

import pytest
from django.urls import reverse
from django.utils.html import escape

from program.models import Utility
from program.operations.plans import plan_draw

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan():
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    figures = {"East": {"median_income": 30_000}, "West": {"median_income": 90_000.0}}
    settings = {"figures": figures, "policy": "Children first, then the poorest streets."}
    return plan_draw(settings={**QUICK, "crews": 1, **settings}, as_of=BEFORE, **WHO)


def test_the_page_compares_by_the_figure_chosen(plan, manager):  # noqa: F811
    page = reverse("plan_fairness", args=[plan.pk])
    index = manager.get(page).context["found"]
    assert index["factor"].key == "need_index"
    assert index["quarters"][0].places == (("East", 7.5),)  # a high index is more need
    income = manager.get(page, {"by": "median_income"})
    rows = income.context["found"]["quarters"]
    assert rows[0].places == (("East", 30_000.0),)  # a low income is more need
    for row, name in zip(rows, ("East", "West"), strict=True):
        areas = plan.areas.filter(neighborhood__name=name)
        jobs = [area.lead + area.grr + area.score_parts["expected"] for area in areas]
        days = [(area.ends_on - BEFORE).days for area in areas]
        mean = sum(map(lambda n, d: n * d, jobs, days)) / sum(jobs)
        assert row.mean_days == pytest.approx(mean)
    assert "Children first" in income.content.decode()
    body = manager.get(page, {"by": "median_income", "csv": 1}).content.decode("utf-8-sig")
    told = list(csv.reader(StringIO(body)))
    assert [row[0] for row in told[1:]] == [row.label for row in rows]
    assert "East (30000)" in told[1][1]


def test_the_plan_says_it_in_a_sentence(plan, manager):  # noqa: F811
    found = manager.get(reverse("plan", args=[plan.pk]))
    assert escape(found.context["fairness"]["sentence"]) in found.content.decode()


def test_income_and_homes_weigh_nothing_until_they_are_given_a_weight(plan):
    again = plan_draw(settings={**plan.settings, "figures": {}}, as_of=BEFORE, **WHO)
    points = [row["points"] for row in plan.result["neighborhoods"]]
    assert points == [row["points"] for row in again.result["neighborhoods"]]
    weights = {**plan.settings["weights"], "median_income": 500}
    heavy = plan_draw(settings={**plan.settings, "weights": weights}, as_of=BEFORE, **WHO)
    first = heavy.result["neighborhoods"][0]
    assert first["name"] == "East" and first["points"] > max(points)
