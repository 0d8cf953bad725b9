"""The page for changing areas on the map: what it shows, what its buttons do, what it refuses."""

import pytest
from django.urls import reverse

from program.models import Utility
from program.operations.plans import plan_adopt, plan_draw
from program.roles import PROGRAM_MANAGER
from replacements.models import Consent, Contractor, WorkOrder
from services_inventory.models import Neighborhood, ServiceLine
from tests.kept import kept

from .test_views import _signed_in
from .towns import BEFORE, NOON, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
@kept
def plan():
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    return plan_draw(settings={**QUICK, "crews": 2, "budget_per_year": 90_000}, as_of=BEFORE, **WHO)


@pytest.fixture
def manager(client):
    return _signed_in(client, PROGRAM_MANAGER)


@pytest.fixture
def east(plan):
    return Neighborhood.objects.get(name="East")


def change(client, plan, hood, action, **data):
    """Send a button's form; where its effect is shown first, keep it as it was shown."""
    where, data = (
        reverse("plan_change", args=[plan.pk]),
        {"action": action, "hood": hood.pk, **data},
    )
    answer = client.post(where, data, follow=True)
    if answer.context.get("effect"):
        answer = client.post(where, as_shown(answer, data), follow=True)
    return [str(message) for message in answer.context["messages"]]


def as_shown(shown, data):
    """The form under the effect: what was sent, and the last change that was there."""
    edits = shown.context["edits"]
    return {**data, "keep": edits[0].pk if edits else ""}


def around(south, north):
    """A triangle that holds all between two latitudes, as the map writes it."""
    return f"-101,{south};-99,{south};-99,{north};-101,{north}"


def test_the_page_lists_one_neighborhood_and_the_lines_of_one_area(plan, manager, east):
    area = plan.areas.filter(neighborhood=east).first()
    page = manager.get(
        reverse("plan_edit", args=[plan.pk]), {"hood": east.pk, "area": area.pk}
    ).content.decode()
    for line in area.lines.values_list("line__location_id", flat=True):
        assert f'value="{line}"' in page
    west = plan.areas.exclude(neighborhood=east).first()
    assert area.key in page and west.key not in page


def test_the_map_gets_the_lines_in_view_and_no_others(plan, manager, east):
    where = reverse("plan_points", args=[plan.pk])
    # ALDER ST lies at 41.5 north, BIRCH ST at 41.502.
    box = "-101,41.499,-100,41.501"
    found = manager.get(where, {"hood": east.pk, "box": box}).json()
    assert len(found["features"]) == 12 and not found["cut"]
    assert {one["id"].split("-")[0] for one in found["features"]} == {"ALDER ST"}
    assert len(manager.get(where, {"hood": east.pk, "street": "BIRCH ST"}).json()["features"]) == 12
    shapes = manager.get(where, {"hood": east.pk, "areas": 1}).json()
    keys = set(plan.areas.filter(neighborhood=east).values_list("key", flat=True))
    assert {one["properties"]["key"] for one in shapes["features"]} == keys
    assert manager.get(where, {"hood": east.pk, "box": "1,2"}).status_code == 400


def test_lines_ticked_chosen_on_the_map_and_of_a_street_go_together(plan, manager, east):
    said = change(
        manager, plan, east, "split_off",
        line=["BIRCH ST-001"], lines="BIRCH ST-002\nBIRCH ST-003", street="ALDER ST",
    )  # fmt: skip
    assert "is a new area with 15 lines." in said[0]
    key = said[0].split(" is ")[0]
    assert plan.areas.get(key=key).lines.count() == 15
    said = change(manager, plan, east, "undo")
    assert said == [f"Taken back: 15 lines taken into {key}."]
    assert not plan.areas.filter(key=key).exists()


def test_areas_are_merged_locked_and_unlocked_together(plan, manager, east):
    areas = list(plan.areas.filter(neighborhood=east).order_by("key"))
    pks = [area.pk for area in areas]
    assert "locked to program year 2" in change(manager, plan, east, "lock", area=pks, year=2)[0]
    assert set(plan.areas.filter(pk__in=pks).values_list("locked", "program_year")) == {(True, 2)}
    assert "unlock it" in change(manager, plan, east, "merge", area=pks)[0]
    change(manager, plan, east, "unlock", area=pks)
    assert (
        f"one area now: {areas[0].key}, with 24"
        in change(manager, plan, east, "merge", area=pks)[0]
    )
    only = plan.areas.get(neighborhood=east)
    said = change(manager, plan, east, "move", line=["ALDER ST-001"], to=only.pk)
    assert said == [f"The lines are in {only.key} already."]


def test_a_change_shows_its_effect_before_it_is_kept(plan, manager, east):
    plan_adopt(plan=plan, **WHO)
    twin = plan_draw(settings={**QUICK, "crews": 2, "based_on": plan.pk}, as_of=BEFORE, **WHO)
    areas = list(twin.areas.filter(neighborhood=east).order_by("key"))
    twin.areas.filter(pk=areas[0].pk).update(program_year=9)
    Consent.objects.create(
        line=areas[1].lines.order_by("id").first().line, answer="GIVEN",
        answered_on=BEFORE, given_by="Sage", recorded_by="x", recorded_at=NOON,
    )  # fmt: skip
    before = set(twin.area_lines.values_list("area_id", "line_id"))
    lines = list(areas[1].lines.order_by("id").values_list("line__location_id", flat=True))
    where = reverse("plan_change", args=[twin.pk])
    data = {"action": "move", "hood": east.pk, "line": lines[:3], "to": areas[0].pk,
            "opened": areas[1].pk}  # fmt: skip
    shown = manager.post(where, data)
    effect = shown.context["effect"]
    assert effect.moves == [(areas[1].key, areas[0].key, 3)] and effect.moved == 3
    sizes = [area.lines.count() for area in areas[:2]]
    assert [row["lines"] for row in effect.before] == sizes
    assert [row["lines"] for row in effect.after] == [sizes[0] + 3, sizes[1] - 3]
    assert effect.in_force == plan and effect.put_off == 3
    assert effect.consent == 1
    assert effect.orders == [] and not twin.edits.exists()
    assert set(twin.area_lines.values_list("area_id", "line_id")) == before
    page = shown.content.decode()
    assert page.count(f'value="{lines[0]}"') == 2 and "3 lines change area" in " ".join(
        page.split()
    )
    contractor = Contractor.objects.create(name="Tern")
    WorkOrder.objects.create(
        number="W-1", line=ServiceLine.objects.get(location_id=lines[0]), state="RELEASED",
        contractor=contractor, created_by="x", created_at=NOON,
    )  # fmt: skip
    again = manager.post(where, data).context["effect"]
    assert again.orders == [("released to the contractor", 1)]
    said = change(manager, twin, east, "move", line=lines[:3], to=areas[0].pk)
    assert said == [f"{areas[0].key} now has {sizes[0] + 3} lines."]


def test_what_was_changed_by_another_meanwhile_is_looked_at_again(plan, manager, east):
    data = {"action": "split_off", "hood": east.pk, "line": ["BIRCH ST-001"]}
    where = reverse("plan_change", args=[plan.pk])
    shown = manager.post(where, data)
    change(manager, plan, east, "split_off", line=["ALDER ST-001"])
    late = manager.post(where, as_shown(shown, data), follow=True)
    assert "changed since this was shown" in late.content.decode() and plan.edits.count() == 1


def test_lines_inside_a_shape_are_drawn_into_a_new_area(plan, manager, east):
    points = reverse("plan_points", args=[plan.pk])
    # ALDER ST lies at 41.5 north, BIRCH ST at 41.502.
    birch = around(41.501, 41.503)
    found = manager.get(points, {"hood": east.pk, "within": birch}).json()["features"]
    assert {one["id"].split("-")[0] for one in found} == {"BIRCH ST"}
    assert "12 lines" in change(manager, plan, east, "split_off", within=birch)[0]
    assert manager.get(points, {"hood": east.pk, "within": "1,2;3,4"}).status_code == 400
    assert "3 to 60 corners" in change(manager, plan, east, "split_off", within="1,2;3,4")[0]


@pytest.mark.parametrize(
    ("action", "words"),
    [
        ("split_off", "Choose the lines first"),
        ("move", "Choose the area that is to take the lines in"),
        ("merge", "Choose two areas or more"),
        ("lock", "Choose an area first"),
        ("undo", "no change by hand"),
        ("paint", "Choose what to do"),
    ],
)
def test_a_button_without_a_choice_says_what_to_choose(plan, manager, east, action, words):
    assert words in change(manager, plan, east, action)[0]
    assert not plan.edits.exists()


def test_a_refusal_keeps_what_was_chosen(plan, manager, east):
    area = plan.areas.filter(neighborhood=east).order_by("key").first()
    listed = area.lines.order_by("id").first().line.location_id
    data = {"hood": east.pk, "opened": area.pk, "line": listed, "lines": "BIRCH ST-001",
            "area": area.pk, "year": 9}  # fmt: skip
    answer = manager.post(reverse("plan_change", args=[plan.pk]), {"action": "move", **data})
    assert answer.status_code == 422
    context, page = answer.context, " ".join(answer.content.decode().split())
    assert context["opened"] == area and context["ticked_lines"] == {listed}
    assert 'name="lines" value="BIRCH ST-001"' in page
    assert f'value="{area.pk}" data-key="{area.key}" checked' in page


def test_an_adopted_plan_shows_its_areas_and_changes_nothing(plan, manager, east):
    plan_adopt(plan=plan, **WHO)
    page = manager.get(reverse("plan_edit", args=[plan.pk])).content.decode()
    assert "stays as it is" in page and "Make a new area" not in page
    said = change(manager, plan, east, "split_off", line=["ALDER ST-001"])
    assert "stays as it is" in said[0] and plan.area_lines.count() == 42
