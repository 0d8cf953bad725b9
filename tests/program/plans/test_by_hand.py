"""Areas locked, split and merged by hand, and plans adopted with their orders."""

import pytest

from program.models import Plan, PlanArea
from program.operations.plans import (
    PlanError,
    area_split,
    areas_lock,
    areas_merge,
    areas_unlock,
    edit_undo,
    lines_regroup,
    plan_adopt,
    plan_draw,
    plan_orders_make,
)
from program.operations.plans.adopting import shared
from replacements.models import Consent, Contractor, WorkOrder, WorkPackage
from services_inventory.models import Neighborhood, ServiceLine
from tests.kept import kept

from .towns import BEFORE, NOON, QUICK, WHO, street, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
@kept
def plan():
    two_hoods()
    return plan_draw(settings={**QUICK, "crews": 2, "budget_per_year": 90_000}, as_of=BEFORE, **WHO)


def again(plan, **settings):
    kept = {**plan.settings, "based_on": plan.pk, **settings}
    return plan_draw(settings=kept, as_of=BEFORE, **WHO)


def test_a_locked_area_keeps_its_year_when_drawn_again(plan):
    area = plan.areas.filter(program_year=1).first()
    last = plan.result["years"][-1]["year"]
    areas_lock(plan=area.plan, areas=[area], year=last, **WHO)
    found = again(plan).areas.get(key=area.key)
    assert found.program_year == last and found.locked
    areas_unlock(plan=area.plan, areas=[area], **WHO)
    assert not again(plan).areas.get(key=area.key).locked
    plan.refresh_from_db()
    assert len(plan.result["by_hand"]) == 2


def test_a_year_outside_the_plan_is_refused(plan):
    with pytest.raises(PlanError, match="Program year 99 is not in this plan"):
        areas_lock(plan=plan, areas=[plan.areas.first()], year=99, **WHO)


def test_split_and_merge_lose_no_line_and_no_money(plan):
    area = plan.areas.order_by("-jobs").first()
    lines = set(area.lines.values_list("line_id", flat=True))
    cost, counts = area.cost, (area.lead, area.grr, area.unknown)
    first, second = area_split(area=area, **WHO)
    parts = [set(one.lines.values_list("line_id", flat=True)) for one in (first, second)]
    assert parts[0] | parts[1] == lines and not parts[0] & parts[1] and all(parts)
    assert first.cost + second.cost == pytest.approx(cost, abs=0.02)
    made = areas_merge(plan=first.plan, areas=[first, second], **WHO)
    assert set(made.lines.values_list("line_id", flat=True)) == lines
    assert (made.lead, made.grr, made.unknown) == counts
    assert made.cost == pytest.approx(cost, abs=0.05)
    assert plan.area_lines.count() == 42


def test_named_lines_become_an_area_of_their_own_and_stay_one_when_drawn_again(plan):
    area = plan.areas.order_by("-jobs").first()
    chosen = list(area.lines.values_list("line__location_id", flat=True)[:2])
    first, _ = area_split(area=area, location_ids=chosen, **WHO)
    found = again(plan).areas.get(key=first.key)
    assert set(found.lines.values_list("line__location_id", flat=True)) == set(chosen)


def test_areas_of_two_neighborhoods_do_not_merge(plan):
    east = plan.areas.filter(neighborhood__name="East").first()
    west = plan.areas.filter(neighborhood__name="West").first()
    with pytest.raises(PlanError, match="never crosses a neighborhood"):
        areas_merge(plan=east.plan, areas=[east, west], **WHO)


def test_an_adopted_plan_is_frozen_and_there_is_one(plan):
    adopted = plan_adopt(plan=plan, **WHO)
    assert (adopted.state, adopted.adopted_by) == ("ADOPTED", "planner")
    with pytest.raises(PlanError, match="stays as it is"):
        areas_lock(plan=adopted, areas=[adopted.areas.first()], year=1, **WHO)
    second = plan_adopt(plan=again(plan), reason="A better one", **WHO)
    assert Plan.objects.get(state="ADOPTED") == second
    plan.refresh_from_db()
    assert plan.state == "SUPERSEDED"
    with pytest.raises(PlanError, match="already"):
        plan_adopt(plan=plan, **WHO)


def test_a_plan_changed_by_hand_is_drawn_again_before_it_is_adopted(plan):
    areas_lock(plan=plan, areas=[plan.areas.first()], year=1, **WHO)
    with pytest.raises(PlanError, match="changed by hand"):
        plan_adopt(plan=plan, **WHO)


def test_a_failed_drawing_leaves_the_adopted_plan_as_it_was(plan):
    plan_adopt(plan=plan, **WHO)
    before = (plan.areas.count(), Plan.objects.get(state="ADOPTED").result)
    with pytest.raises(PlanError):
        again(plan, crews=0)
    assert before == (plan.areas.count(), Plan.objects.get(state="ADOPTED").result)


@pytest.fixture
def companies():
    return [Contractor.objects.create(name=name) for name in ("Aspen", "Bramble")]


def test_orders_are_made_for_known_lines_only_and_once(plan, companies):
    plan_adopt(plan=plan, **WHO)
    year = plan.result["years"][0]["year"]
    areas = plan.areas.filter(program_year=year)
    refused = ServiceLine.objects.filter(pk__in=plan.area_lines.filter(
        area__in=areas).values("line_id"), category="LEAD").first()  # fmt: skip
    Consent.objects.create(
        line=refused, answer="REFUSED", answered_on=BEFORE, recorded_by="x", recorded_at=NOON
    )
    shares = {one.pk: 50 for one in companies}
    told = plan_orders_make(plan=Plan.objects.get(pk=plan.pk), year=year, shares=shares, **WHO)
    known = sum(area.lead + area.grr for area in areas)
    assert told["made"] == known - 1 == WorkOrder.objects.count()
    assert told["refused"] == 1 and told["unknown"] == sum(area.unknown for area in areas)
    assert set(WorkOrder.objects.values_list("state", flat=True)) == {"PLANNED"}
    assert WorkPackage.objects.count() == 2
    second = plan_orders_make(plan=Plan.objects.get(pk=plan.pk), year=year, shares=shares, **WHO)
    assert second["made"] == 0 and second["open"] == known - 1
    assert WorkPackage.objects.count() == 2


def test_orders_stop_at_the_limit_and_say_how_many_wait(plan, companies):
    plan_adopt(plan=plan, **WHO)
    told = plan_orders_make(
        plan=Plan.objects.get(pk=plan.pk), year=1, shares={companies[0].pk: 1}, limit=2, **WHO
    )
    assert told["made"] == 2 and told["left_for_later"] > 0


@pytest.mark.parametrize(
    ("year", "share", "words"),
    [(1, 0, "active contractor"), (77, 1, "No area")],
)
def test_orders_that_cannot_be_made_are_told(plan, companies, year, share, words):
    plan_adopt(plan=plan, **WHO)
    with pytest.raises(PlanError, match=words):
        plan_orders_make(
            plan=Plan.objects.get(pk=plan.pk), year=year, shares={companies[0].pk: share}, **WHO
        )
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize("jobs", [[(1, 30), (1, 28), (1, 32), (2, 5)], [(1, 20), (2, 20)]])
def test_contractors_come_near_their_parts_whatever_the_crews_hold(jobs):
    areas = [PlanArea(pk=k, key=str(k), crew=crew, jobs=n) for k, (crew, n) in enumerate(jobs, 1)]
    given = shared(areas, {7: 50, 8: 50})
    assert sorted(area.pk for _, area in given) == [area.pk for area in areas]
    for owner in (7, 8):
        part = sum(area.jobs for pk, area in given if pk == owner)
        assert abs(part - sum(n for _, n in jobs) / 2) <= 20


def state_of(plan):
    """Every area's row and lines, without the numbers of the rows."""
    names = ("key", "name", "jobs", "lead", "cost", "program_year", "crew", "locked", "starts_on")
    return {
        area.key: [
            [getattr(area, name) for name in names],
            sorted(area.lines.values_list("line_id", flat=True)),
        ]
        for area in PlanArea.objects.filter(plan=plan)
    }


def some_lines(area, count):
    return list(area.lines.values_list("line__location_id", flat=True)[:count])


def test_lines_of_two_areas_become_one_new_area_and_no_line_or_dollar_is_lost(plan):
    first, second = plan.areas.filter(neighborhood__name="East").order_by("key")[:2]
    chosen = some_lines(first, 2) + some_lines(second, 1)
    money, was = sum(plan.areas.values_list("cost", flat=True)), first.lines.count()
    made = lines_regroup(plan=plan, location_ids=chosen, to=None, **WHO)
    assert sorted(made.lines.values_list("line__location_id", flat=True)) == sorted(chosen)
    assert made.program_year == first.program_year and made.key not in (first.key, second.key)
    assert plan.areas.get(key=first.key).lines.count() == was - 2
    assert sum(plan.areas.values_list("cost", flat=True)) == pytest.approx(money, abs=0.05)
    assert plan.area_lines.count() == 42


def test_an_area_that_gives_its_last_line_away_is_gone(plan):
    first, second = plan.areas.filter(neighborhood__name="East").order_by("key")[:2]
    everything = some_lines(second, 100)
    made = lines_regroup(plan=plan, location_ids=everything, to=first, **WHO)
    assert made.key == first.key and not plan.areas.filter(key=second.key).exists()
    assert plan.area_lines.count() == 42


def test_every_change_can_be_taken_back_one_by_one_until_the_plan_is_as_drawn(plan):
    drawn = state_of(plan)
    east = list(plan.areas.filter(neighborhood__name="East").order_by("key"))
    areas_lock(plan=east[0].plan, areas=[east[0]], year=plan.result["years"][-1]["year"], **WHO)
    area_split(area=east[1], **WHO)
    areas_unlock(plan=plan, areas=[plan.areas.get(key=east[0].key)], **WHO)
    lines_regroup(plan=plan, location_ids=some_lines(east[0], 2), to=None, **WHO)
    whole = list(plan.areas.filter(neighborhood__name="West"))
    areas_merge(plan=plan, areas=whole, **WHO)
    for left in range(4, -1, -1):
        edit_undo(plan=plan, by="second", at=NOON)
        plan.refresh_from_db()
        assert len(plan.result["by_hand"]) == left
    assert state_of(plan) == drawn
    assert set(plan.edits.values_list("undone_by", flat=True)) == {"second"}
    with pytest.raises(PlanError, match="no change by hand"):
        edit_undo(plan=plan, **WHO)
    # Nothing is left of the changes, so the plan may be adopted as it was drawn.
    assert plan_adopt(plan=plan, **WHO).state == "ADOPTED"
    with pytest.raises(PlanError, match="stays as it is"):
        edit_undo(plan=plan, **WHO)


def test_changes_that_cannot_be_are_told_and_change_nothing(plan):
    east = list(plan.areas.filter(neighborhood__name="East").order_by("key"))
    west = plan.areas.filter(neighborhood__name="West").first()
    areas_lock(plan=east[0].plan, areas=[east[0]], year=1, **WHO)
    locked = plan.areas.get(key=east[0].key)
    before = state_of(plan)
    mixed = some_lines(east[1], 1) + some_lines(west, 1)
    tried = (
        (lines_regroup, {"location_ids": [], "to": None}, "Choose the lines first"),
        (lines_regroup, {"location_ids": mixed, "to": None}, "East and West"),
        (lines_regroup, {"location_ids": some_lines(locked, 1), "to": None}, "is locked"),
        (lines_regroup, {"location_ids": some_lines(west, 99), "to": None}, "All lines of"),
        (lines_regroup, {"location_ids": some_lines(west, 1), "to": west}, "already"),
        (lines_regroup, {"location_ids": ["nowhere"], "to": None}, "Line nowhere"),
        (areas_merge, {"areas": [west]}, "two areas or more"),
        (areas_lock, {"areas": [], "year": 1}, "Choose an area first"),
    )
    for change, asked, words in tried:
        with pytest.raises(PlanError, match=words):
            change(plan=plan, **asked, **WHO)
    assert state_of(plan) == before


def test_areas_far_apart_are_not_merged_and_the_distance_is_told(plan):
    west = Neighborhood.objects.get(name="West")
    street(west, "FAR ST", 200, ["LEAD"] * 6)  # 0.4 degrees north: some 42 km from CEDAR ST
    found = again(plan)
    near = found.areas.filter(neighborhood=west).exclude(name__startswith="FAR").first()
    far = found.areas.get(name__startswith="FAR")
    with pytest.raises(PlanError, match=r"lie 4\d,\d{3} m apart"):
        areas_merge(plan=found, areas=[near, far], **WHO)
