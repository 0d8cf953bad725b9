"""Money by source and a new crew's first days: entered on the page, kept, shown, held to."""

from datetime import timedelta

import pytest
from django.urls import reverse

from program.models import Utility
from program.operations.plans import PlanError, plan_draw
from program.operations.plans.capacity import crew_jobs, mean_crews
from program.operations.plans.horizon import HorizonYear
from program.queries.planning.asked import PlanAsked
from program.queries.planning.calendar import working_time_told
from program.queries.planning.money import money_of
from program.queries.planning.plan_calendars import calendar_of, rest_of
from program.views.plans.forms import PlanForm
from services_inventory.models import Batch, Neighborhood

from .test_views import manager  # noqa: F401 - a fixture
from .towns import BEFORE, QUICK, WHO, street, two_hoods

pytestmark = pytest.mark.django_db
FUNDING = [
    {"source": "Rates", "kind": "RATES", "years": [1, 2, 3, 4, 5], "dollars": 60_000.0,
     "places": [], "condition": ""},
    {"source": "City grant", "kind": "GRANT", "years": [1, 2], "dollars": 40_000.0,
     "places": ["West"], "condition": "Homes with children"},
]  # fmt: skip


def test_a_year_has_the_sum_of_its_sources_unless_it_has_a_budget():
    asked = PlanAsked.of({"funding": FUNDING, "budget_per_year": 5, "budget_by_year": {"2": 7}})
    assert [asked.budget_in(year) for year in (1, 2, 3, 6)] == [100_000, 7, 60_000, 5]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ({"kind": "GIFT"}, "Kind"),
        ({"dollars": -1}, "greater than or equal to 0"),
        ({"years": []}, "Program years"),
        ({"dollars": "9000"}, "without quotation marks"),
        ({"colour": "green"}, "there is no 'colour'"),
    ],
)
def test_a_source_that_cannot_be_is_told(row, told):
    with pytest.raises(PlanError, match=told):
        PlanAsked.of({"funding": [{**FUNDING[0], **row}]})
    with pytest.raises(PlanError, match="earlier row"):
        PlanAsked.of({"funding": [FUNDING[0], FUNDING[0]]})


def test_money_bound_to_a_neighborhood_that_is_not_there_is_refused():
    two_hoods()
    row = {**FUNDING[1], "places": ["Wset"]}
    with pytest.raises(PlanError, match="name the neighborhood 'Wset'"):
        plan_draw(settings={**QUICK, "funding": [row]}, as_of=BEFORE, **WHO)


def test_the_plan_shows_who_pays_and_what_is_left(manager):  # noqa: F811
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    plan = plan_draw(settings={**QUICK, "crews": 1, "funding": FUNDING}, as_of=BEFORE, **WHO)
    assert not plan.result["clash"]
    page = manager.get(reverse("plan", args=[plan.pk]))
    for year in page.context["money"]:
        own = plan.areas.filter(program_year=year["year"])
        row = next(one for one in plan.result["years"] if one["year"] == year["year"])
        assert year["cost"] == pytest.approx(row["cost"])
        paid = {one["row"].source.name: one["row"].spent for one in year["paid"]}
        assert sum(paid.values()) + year["short"] == pytest.approx(row["cost"])
        west = sum(area.cost for area in own.filter(neighborhood__name="West"))
        assert paid.get("City grant", 0) <= west + 0.01
    assert "Homes with children" in page.content.decode()
    told = manager.get(reverse("plan_money", args=[plan.pk])).content.decode()
    assert "City grant,grant" in told


def test_a_grant_for_one_neighborhood_pays_for_no_other():
    """Enough in all for two years' work; only West may use most of the first year's money."""
    two_hoods()
    rows = [
        {**FUNDING[0], "years": [1], "dollars": 20_000},
        {**FUNDING[0], "years": [2, 3, 4, 5], "dollars": 400_000},
        {**FUNDING[1], "years": [1], "dollars": 200_000},
    ]
    asked = {**QUICK, "crews": 2, "unknown_years": 2}
    bound = plan_draw(settings={**asked, "funding": rows}, as_of=BEFORE, **WHO)
    free = [{**row, "places": []} for row in rows]
    other = plan_draw(settings={**asked, "funding": free}, as_of=BEFORE, **WHO)

    def east(plan):
        own = plan.areas.filter(program_year=1, neighborhood__name="East")
        return sum(area.cost for area in own)

    assert not bound.result["clash"] and not other.result["clash"]
    assert [year["short"] for year in money_of(bound)] == [0] * len(money_of(bound))
    assert east(bound) <= 20_000 < east(other)
    # The odds don't have what East may not use, either.
    assert bound.forecast["mean_replaced"][0] < other.forecast["mean_replaced"][0]


def test_crews_and_money_that_would_help_leave_a_grant_where_it_is_bound():
    two_hoods()
    rows = [
        {**FUNDING[0], "years": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10], "dollars": 30_000},
        {**FUNDING[1], "years": [1, 2], "dollars": 90_000},
    ]
    asked = {
        **QUICK, "crews": 1, "jobs_per_crew_day": 0.03, "funding": rows,
        "area_least": 1, "area_target": 2, "area_most": 3,
    }  # fmt: skip
    plan = plan_draw(settings=asked, as_of=BEFORE, **WHO)
    assert plan.result["clash"]
    (row,) = plan.result["advice"]["rows"]
    assert row["kind"] == "Crews and budget together" and row["settings"]["funding"] == rows
    again = plan_draw(settings={**plan.settings, **row["settings"]}, as_of=BEFORE, **WHO)
    assert not again.result["clash"]
    assert sum(one["cost"] for one in again.result["years"]) == pytest.approx(row["cost"])


def test_sources_entered_on_the_page_are_kept_and_come_back(manager):  # noqa: F811
    two_hoods()
    form = PlanForm()
    data = {name: form[name].value() for name in form.fields}
    data = {name: value for name, value in data.items() if value is not None and value is not False}
    for key in form.tables:
        data |= {f"{key}-TOTAL_FORMS": int(key == "funding"), f"{key}-INITIAL_FORMS": 0}
    data |= {
        "funding-0-source": "State loan", "funding-0-kind": "LOAN", "funding-0-years": "1-3",
        "funding-0-dollars": "$900,000", "funding-0-places": "East, West", "ramp_up_days": "20",
        "policy": "Children first.",
    }  # fmt: skip
    answer = manager.post(reverse("plan_new"), data)
    assert answer.status_code == 302, answer.context["form"].errors
    kept = Batch.objects.latest("pk").parameters["settings"]
    assert kept["funding"] == [
        {"source": "State loan", "kind": "LOAN", "years": [1, 2, 3], "dollars": 900_000.0,
         "places": ["East", "West"], "condition": ""}
    ]  # fmt: skip
    assert (kept["ramp_up_days"], kept["policy"]) == (20, "Children first.")
    plan = plan_draw(settings={**kept, "runs": 200}, as_of=BEFORE, **WHO)
    page = manager.get(f"{reverse('plan_new')}?from={plan.pk}").content.decode()
    assert "State loan" in page and "900000" in page and "East, West" in page


def test_a_new_crew_does_half_on_its_first_days():
    year = HorizonYear(2, BEFORE, BEFORE, (100.0,), 50, 0)
    by_year = {"1": 1, "2": 3}
    old = PlanAsked.of({"crews_by_year": by_year, "jobs_per_crew_day": 2})
    new = PlanAsked.of({"crews_by_year": by_year, "jobs_per_crew_day": 2, "ramp_up_days": 40})
    assert crew_jobs(year, old, 3) == ((200,), (200,), (200,))
    assert crew_jobs(year, new, 3) == ((200,), (160,), (160,))
    assert (mean_crews(year, old, 3), mean_crews(year, new, 3)) == (3, pytest.approx(2.6))
    # Ten hours are a quarter more than eight; two days of restoring for ten a sixth less.
    long = PlanAsked.of({"crews": 1, "day_hours": 10, "jobs_per_crew_day": 2})
    assert crew_jobs(year, long, 1) == ((250,),)
    restored = PlanAsked.of({"crews": 1, "restoration_days": 2, "jobs_per_crew_day": 2})
    assert crew_jobs(year, restored, 1) == ((166,),)
    # A crew is new beside those that the plan chose itself, too.
    chosen = PlanAsked.of({"ramp_up_days": 40, "crews_by_year": {"2": 3}}).staffed({1: 1, 2: 3})
    assert crew_jobs(year, chosen, 3) == ((200,), (160,), (160,))
    # Where the year before isn't given, no crew is taken to be new.
    free = PlanAsked.of({"jobs_per_crew_day": 2, "ramp_up_days": 40})
    assert crew_jobs(year, free, 2) == ((200,), (200,))


def test_a_new_crew_and_days_of_restoring_are_in_the_crew_calendar_and_what_is_left_of_it():
    hood = Neighborhood.objects.create(name="East")
    for k in range(8):
        street(hood, f"ELM {k} ST", k, ["LEAD"] * 6)
    asked = {**QUICK, "crews_by_year": {"1": 1}, "crews": 2, "jobs_per_crew_day": 0.16}
    ramp = {**asked, "ramp_up_days": 10, "restoration_days": 5, "day_hours": 6}
    plans = [plan_draw(settings=one, as_of=BEFORE, **WHO) for one in (asked, ramp)]
    plan = plans[1]
    rows = calendar_of(plan, 2)
    a_day, left = 0.16 * 6 / 8, {1: 0, 2: 10}
    for row in rows:
        jobs, days = row.jobs, 0
        while jobs > 1e-9:
            jobs -= a_day / 2 if left[row.crew] > 0 else a_day
            left[row.crew], days = left[row.crew] - 1, days + 1
        assert row.work_days == days
        assert row.restored > row.finish
    assert {row.crew for row in rows} == {1, 2}
    own = {area.key: area.ends_on for area in plan.areas.filter(program_year=2)}
    assert own == {row.area_id: row.finish for row in rows}
    # Half way through its first days a crew has the other half before it.
    second = next(row for row in rows if row.crew == 2)
    rest = rest_of(plan, 2, second.start)
    assert next(row for row in rest if row.crew == 2).work_days == second.work_days
    later = rest_of(plan, 2, second.start + timedelta(days=60))
    assert next(row for row in later if row.crew == 2).work_days < second.work_days
    told = working_time_told(PlanAsked.of(plan.settings))
    assert "6 hours a day, 0.12 jobs" in told and "5 days of restoring" in told
    assert "its first 10 working days" in told
