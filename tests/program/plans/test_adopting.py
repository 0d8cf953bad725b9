"""Adopting shows what changes, asks why, and can be taken back while nothing is released."""

import pytest
from django.urls import reverse

from program.models import Plan, PlanAdoption
from program.operations.plans import (
    PlanError,
    plan_adopt,
    plan_adoption_undo,
    plan_draw,
    plan_orders_call_off,
    plan_orders_make,
)
from program.queries.planning.adoption import adoption_of
from replacements.models import Consent, Contractor, WorkOrder, WorkPackage
from services_inventory.models import ServiceLine
from services_inventory.today import now
from tests.kept import kept
from tests.services_inventory.people import MANAGER, browser_of

from .towns import BEFORE, NOON, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db
WHY = {"reason": "The council cut the budget"}


@pytest.fixture
@kept
def first():
    two_hoods()
    drawn = plan_draw(settings={**QUICK, "crews": 2}, as_of=BEFORE, name="First", **WHO)
    return plan_adopt(plan=drawn, **WHO)


@pytest.fixture
def slower(first):
    kept = {**first.settings, "crews": 1, "budget_per_year": 90_000}
    return plan_draw(settings=kept, as_of=BEFORE, name="Slower", **WHO)


@pytest.fixture
def ordered(first):
    company = Contractor.objects.create(name="Aspen")
    year = first.result["years"][0]["year"]
    plan_orders_make(plan=first, year=year, shares={company.pk: 1}, **WHO)
    return first


def years_of(plan) -> dict:
    rows = plan.area_lines.filter(line__category__in=("LEAD", "GRR", "UNKNOWN"))
    return dict(rows.exclude(area__program_year=None).values_list("line_id", "area__program_year"))


def test_what_changes_is_counted_line_by_line(first, slower):
    before, after = years_of(first), years_of(slower)
    pushed = [line for line, year in before.items() if after.get(line, 99) > year]
    Consent.objects.create(
        line_id=pushed[0], answer="GIVEN", answered_on=BEFORE, recorded_by="x", recorded_at=NOON
    )
    found = adoption_of(slower, first)
    assert found.later + found.left_out == len(pushed) > 0
    assert found.consent_given == 1
    assert found.earlier + found.same + found.later + found.left_out == len(before)
    assert sum(move.lines for move in found.moves) == len(pushed) or found.more_moves


def test_a_line_settled_since_is_no_promise_broken(first, slower):
    line = next(iter(years_of(first)))
    before = adoption_of(slower, first)
    ServiceLine.objects.filter(pk=line).update(category="NON_LEAD")
    after = adoption_of(slower, first)
    counted = ("earlier", "same", "later", "left_out")
    total = [sum(getattr(one, name) for name in counted) for one in (before, after)]
    assert total[1] == total[0] - 1 and after.left_out == before.left_out


def test_taking_the_place_of_a_plan_needs_a_reason(first, slower):
    with pytest.raises(PlanError, match="Say why Slower takes the place of First"):
        plan_adopt(plan=slower, **WHO)
    assert Plan.objects.get(state="ADOPTED") == first
    plan_adopt(plan=slower, **WHY, **WHO)
    kept = PlanAdoption.objects.get(plan=slower)
    assert (kept.instead_of, kept.reason) == (first, WHY["reason"])


def test_an_adoption_is_taken_back_with_its_planned_orders(ordered, slower):
    plan_adopt(plan=slower, **WHY, **WHO)
    assert plan_adoption_undo(plan=slower, reason="Chosen by mistake", **WHO) == ordered
    slower.refresh_from_db()
    assert slower.state == "DRAWN" and Plan.objects.get(state="ADOPTED") == ordered
    kept = PlanAdoption.objects.get(plan=slower)
    assert (kept.undone_because, kept.undone_by) == ("Chosen by mistake", WHO["by"])
    ordered.refresh_from_db()
    assert plan_adoption_undo(plan=ordered, reason="None of it", **WHO) is None
    assert set(WorkOrder.objects.values_list("state", flat=True)) == {"CALLED_OFF"}
    ordered.refresh_from_db()
    assert plan_adopt(plan=ordered, **WHO).state == "ADOPTED"  # and back again


def test_a_plan_that_crews_work_by_stays_in_force(ordered):
    order = WorkOrder.objects.first()
    WorkOrder.objects.filter(pk=order.pk).update(state="RELEASED")
    with pytest.raises(PlanError, match="1 of the plan's orders is released or further on"):
        plan_adoption_undo(plan=ordered, reason="A slip", **WHO)
    ordered.refresh_from_db()
    assert ordered.state == "ADOPTED"
    count = WorkOrder.objects.count()
    assert plan_orders_call_off(plan=ordered, **WHY, **WHO) == count - 1
    order.refresh_from_db()
    assert order.state == "RELEASED"


def test_orders_of_a_package_that_is_only_named_alike_stay(ordered):
    order = WorkOrder.objects.first()
    other = WorkPackage.objects.create(
        contractor=order.contractor, name=f"Relief work, plan {ordered.pk}", year=2027,
        created_by="x", created_at=NOON,
    )  # fmt: skip
    WorkOrder.objects.filter(pk=order.pk).update(package=other)
    plan_orders_call_off(plan=ordered, **WHY, **WHO)
    order.refresh_from_db()
    assert order.state == "PLANNED"


def test_nothing_is_called_off_without_a_reason(ordered):
    for undo in (plan_adoption_undo, plan_orders_call_off):
        with pytest.raises(PlanError, match="Say why"):
            undo(plan=ordered, reason=" ", **WHO)
    assert set(WorkOrder.objects.values_list("state", flat=True)) == {"PLANNED"}


def test_the_page_shows_what_changes_and_the_way_back(first, slower):
    client = browser_of(MANAGER)
    page = client.get(reverse("plan_adopt", args=[slower.pk])).content.decode()
    assert "takes the place of" in page and "come later" in page
    told = client.post(reverse("plan_adopt", args=[slower.pk]), {"reason": ""}, follow=True)
    assert "Say why Slower" in told.content.decode()
    client.post(reverse("plan_adopt", args=[slower.pk]), WHY)
    page = client.get(reverse("plan", args=[slower.pk])).content.decode()
    assert WHY["reason"] in page
    back = reverse("plan_adopt_undo", args=[slower.pk])
    told = client.post(back, {"reason": "A slip"}, follow=True).content.decode()
    assert "First is in force again" in told
    slower.refresh_from_db()
    assert slower.state == "DRAWN" and now() >= PlanAdoption.objects.get(plan=slower).undone_at
