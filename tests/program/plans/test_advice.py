"""What a plan offers to change: entered to the dollar, each gives the plan that was told."""

from datetime import date
from functools import partial

import pytest
from django.urls import reverse

from program.models import Plan, Utility
from program.operations.plans import (
    PlanError,
    plan_adopt,
    plan_advise,
    plan_draw,
)
from program.roles import PROGRAM_MANAGER
from services_inventory.models import Batch, Neighborhood
from services_inventory.operations.batches import batch_run
from tests.kept import kept

from .test_views import _signed_in as signed_in
from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, QUICK, WHO, street, two_hoods

pytestmark = pytest.mark.django_db


def drawn(**settings):
    return plan_draw(settings={**QUICK, "crews": 1, **settings}, as_of=BEFORE, **WHO)


def big_town():
    """Ninety lead lines on six streets and thirty unknown ones, sixty more known from records."""
    east, west = two_hoods()
    for number in range(6):
        street(east, f"ELM{number} ST", 12 + number, ["LEAD"] * 15)
    street(west, "ASK ST", 20, ["UNKNOWN"] * 30)
    street(west, "KNOWN ST", 21, ["NON_LEAD"] * 60)


TIGHT = {
    "crews": {"crews": 1, "jobs_per_crew_day": 0.08},
    "budget": {"budget_per_year": 95_000},
    "days": {"jobs_per_crew_day": 0.11, "weekdays": [0, 1, 2]},
    "frost": {"jobs_per_crew_day": 0.13, "frost": [[11, 1], [4, 30]]},
    "shares": {
        "quotas": {"West": 0.15},
        "closed_years": {"West": [1, 2]},
        "jobs_per_crew_day": 0.12,
    },
    "closures": {"closed_years": {"East": [1, 2, 3, 4]}, "budget_per_year": 300_000},
    "both": {"jobs_per_crew_day": 0.05, "budget_per_year": 60_000},
}


def _tight(name):
    big_town()
    return drawn(**TIGHT[name])


CLASHING = {name: kept(partial(_tight, name)) for name in TIGHT}


@pytest.mark.parametrize("name", TIGHT)
def test_every_change_offered_gives_the_plan_that_was_told(name):
    plan = CLASHING[name]()
    assert plan.result["clash"], "the case is to clash"
    rows = plan.result["advice"]["rows"]
    assert rows, plan.result
    for row in rows:
        after = plan_draw(settings={**plan.settings, **row["settings"]}, as_of=BEFORE, **WHO)
        years = after.result["years"]
        assert after.result["clash"] == "" and after.areas.filter(program_year=None).count() == 0
        assert all(year["meets"] in (True, None) for year in years)
        assert sum(year["cost"] for year in years) == pytest.approx(row["cost"])
        assert after.forecast["complies_throughout"] == row["complies"]
        assert max(year["year"] for year in years if year["areas"]) == row["last_year"]


def test_the_change_is_the_least_of_its_kind():
    plan = CLASHING["crews"]()
    (row,) = [row for row in plan.result["advice"]["rows"] if row["kind"] == "Crews"]
    fewer = {**plan.settings, "crews": row["settings"]["crews"] - 1}
    assert plan_draw(settings=fewer, as_of=BEFORE, **WHO).result["clash"]


def test_a_budget_that_is_raised_stays_in_whole_thousands():
    plan = CLASHING["budget"]()
    (row,) = [row for row in plan.result["advice"]["rows"] if row["kind"] == "Budget"]
    table = row["settings"]["budget_by_year"]
    assert table and all(money % 1000 == 0 and money >= 95_000 for money in table.values())


def test_what_helps_a_plan_is_told_with_points_and_dollars_the_cheapest_first():
    big_town()
    plan = drawn(jobs_per_crew_day=0.16, frost=[[12, 1], [3, 15]], runs=500)
    assert plan.result["clash"] == "" and plan.result["advice"] == {}
    figures = plan.result["years"]
    found = plan_advise(plan=plan, as_of=BEFORE)
    plan.refresh_from_db()
    assert plan.result["advice"] == found and plan.result["years"] == figures
    assert {row["kind"] for row in found["rows"]} >= {"Working days", "Season"}
    assert any(one.startswith("Crews: 2 crews") for one in found["without"])
    now = plan.forecast["complies_throughout"]
    for row in found["rows"]:
        assert row["points"] == pytest.approx(100 * (row["complies"] - now))
        assert row["points"] > 0
    asked = [row["dollars_a_point"] for row in found["rows"]]
    assert asked == sorted(asked)


def test_nothing_is_tried_for_an_adopted_plan():
    two_hoods()
    plan = drawn()
    plan_adopt(plan=plan, reason="As agreed.", **WHO)
    with pytest.raises(PlanError, match="adopted: draw it again"):
        plan_advise(plan=plan, as_of=BEFORE)


def test_a_change_is_drawn_by_its_button_and_one_not_there_is_told(client):
    plan = CLASHING["crews"]()
    planner = signed_in(client, PROGRAM_MANAGER)
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    page = planner.get(reverse("plan", args=[plan.pk]))
    assert b"Draw with this" in page.content and b"Each change was drawn on" in page.content
    row = plan.result["advice"]["rows"][0]
    answer = planner.post(reverse("plan_advice", args=[plan.pk]), {"change": "1"})
    batch = Batch.objects.get(pk=int(answer.url.split("/")[-2]))
    batch_run(batch=batch)
    after = Plan.objects.get(pk=Batch.objects.get(pk=batch.pk).result["plan"])
    assert after.pk != plan.pk and after.result["clash"] == ""
    assert {**after.settings, **row["settings"]} == after.settings
    answer = planner.post(reverse("plan_advice", args=[plan.pk]), {"change": "99"}, follow=True)
    assert b"isn&#x27;t among those tried" in answer.content
    answer = planner.post(reverse("plan_advice", args=[after.pk]))
    batch = Batch.objects.get(pk=int(answer.url.split("/")[-2]))
    batch_run(batch=batch)
    after.refresh_from_db()
    assert after.result["advice"]["tried_on"] == "2027-03-01"
    assert b"What would help" in planner.get(reverse("plan", args=[after.pk])).content


def test_a_new_scenario_begins_with_the_adopted_one(manager):  # noqa: F811
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    assert manager.get(reverse("plan_new")).context["start"] is None
    plan = drawn(budget_per_year=130_000, weekdays=[0, 1, 2, 3, 4])
    plan_adopt(plan=plan, reason="As agreed.", **WHO)
    page = manager.get(reverse("plan_new"))
    assert page.context["start"] == plan and b"(adopted)." in page.content
    form = page.context["form"]
    assert form.initial["budget_per_year"] == 130_000
    assert list(form["weekdays"].value()) == [0, 1, 2, 3, 4] and form.initial["based_on"] == plan.pk
    blank = manager.get(reverse("plan_new") + "?from=0").context
    assert blank["start"] is None and blank["form"].initial["budget_per_year"] is None


def test_more_days_of_the_week_do_more_and_work_is_put_on_them():
    two_hoods()
    plans = [drawn(weekdays=days) for days in ([0, 1, 2, 3], [0, 1, 2, 3, 4], [4])]
    capacity = [plan.result["years"][1]["capacity"] for plan in plans]
    # Friday is a fourth more than Monday to Thursday, less holidays, which are mostly Mondays.
    assert capacity[1] / capacity[0] == pytest.approx(1.27, abs=0.05)
    assert {day.weekday() for day in plans[2].areas.values_list("starts_on", flat=True)} == {4}
    with pytest.raises(PlanError, match="Days of the week"):
        drawn(weekdays=[7])
    with pytest.raises(PlanError, match="Days of the week"):
        drawn(weekdays=[])


def test_days_off_are_kept_free_and_do_no_work():
    two_hoods()
    spring = [["2028-01-01", "2028-06-30"]]
    plans = [drawn(days_off=days) for days in ([], spring)]
    rows = [plan.result["years"][0] for plan in plans]
    # Six of the fourteen months of program year 1.
    assert rows[1]["capacity"] / rows[0]["capacity"] == pytest.approx(8 / 14, abs=0.06)
    for area in plans[1].areas.all():
        assert not date(2028, 1, 1) <= area.starts_on <= date(2028, 6, 30)
    for faulty in ([["2028-07-01", "2028-06-01"]], [["2028-07-01"]], ["soon"], "none"):
        with pytest.raises(PlanError, match="Days off"):
            drawn(days_off=faulty)


def test_where_no_crews_are_given_enough_are_found():
    hood = Neighborhood.objects.create(name="East")
    for number in range(8):
        street(hood, f"OAK{number} ST", number, ["LEAD"] * 12)
    plan = plan_draw(settings={**QUICK, "jobs_per_crew_day": 0.1}, as_of=BEFORE, **WHO)
    assert plan.result["clash"] == "" and plan.settings["crews"] is None
