"""Pages of the plan, as the program manager and as somebody who may only look."""

from datetime import date

import pytest
import shapely
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.urls import reverse
from icalendar import Calendar

from program.models import InspectionDraw, Plan, Utility
from program.operations.plans import inspections_draw, plan_draw
from program.queries.planning.board import COLUMNS
from program.roles import COMPLIANCE, PROGRAM_MANAGER
from replacements.models import Contractor, WorkPackage
from services_inventory.models import Batch, Neighborhood, ServiceLine
from services_inventory.operations.batches import batch_run
from tests.kept import kept
from tests.page_forms import Forms

from .towns import BEFORE, NOON, QUICK, WHO, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
@kept
def plan():
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    return plan_draw(
        settings={**QUICK, "crews": 1, "budget_per_year": 100_000}, as_of=BEFORE, **WHO
    )


@pytest.fixture
def manager(client):
    return _signed_in(client, PROGRAM_MANAGER)


def _signed_in(client, role):
    user = get_user_model().objects.create_user(role.lower().replace(" ", "_"))
    user.groups.add(Group.objects.get(name=role))
    client.force_login(user)
    return client


def test_every_page_of_a_plan_answers(plan, manager):
    area = plan.areas.filter(program_year=1).first()
    draw = inspections_draw(budget=4, random_share=0.5, seed=1, as_of=BEFORE, **WHO)
    pages = [
        reverse("plan_list"), reverse("plan_board_csv"), reverse("plan_new"),
        f"{reverse('plan_new')}?from={plan.pk}", reverse("plan_unknowns"),
        reverse("plan_inspection_csv", args=[draw.pk]), reverse("plan", args=[plan.pk]),
        reverse("plan_area", args=[plan.pk, area.pk]), reverse("plan_shapes", args=[plan.pk]),
        reverse("plan_csv", args=[plan.pk]), reverse("plan_lines_csv", args=[plan.pk]),
        reverse("plan_priority", args=[plan.pk]), reverse("plan_calendar", args=[plan.pk, 1]),
        f"{reverse('plan_calendar', args=[plan.pk, 1])}?rest=1",
        f"{reverse('plan_compare')}?before={plan.pk}&after={plan.pk}",
        f"{reverse('plan_compare')}?before={plan.pk}&after={plan.pk}&csv=1",
    ]  # fmt: skip
    assert [manager.get(page).status_code for page in pages] == [200] * len(pages)


def test_a_crew_calendar_is_one_event_an_area(plan, manager):
    areas = plan.areas.filter(program_year=1, crew=1)
    body = manager.get(reverse("plan_ics", args=[plan.pk, 1, 1])).content
    events = Calendar.from_ical(body).walk("VEVENT")
    found = {str(event["summary"]).split(":")[0]: event for event in events}
    assert set(found) == set(areas.values_list("key", flat=True))
    for area in areas:
        assert found[area.key]["dtstart"].dt == area.starts_on
        assert (found[area.key]["dtend"].dt - area.ends_on).days == 1
    assert manager.get(reverse("plan_ics", args=[plan.pk, 1, 9])).status_code == 404


def test_what_is_left_of_the_running_year_is_drawn_and_downloaded_from_today(plan, manager):
    later = date(2028, 6, 1)
    rich = {**plan.settings, "budget_per_year": 400_000}
    plan = plan_draw(settings=rich, as_of=BEFORE, **WHO)
    done = plan.areas.filter(program_year=1, ends_on__lt=later).first()
    ServiceLine.objects.filter(pk__in=done.lines.values("line_id")).update(category="NON_LEAD")
    Utility.objects.update(clock_stands_at=later)
    page = manager.get(reverse("plan_rest", args=[plan.pk, 1]))
    left = plan.areas.filter(program_year=1).exclude(pk=done.pk)
    assert {row.area_id for row in page.context["rows"]} == {area.key for area in left}
    assert done.key not in page.content.decode()
    where = reverse("plan_ics", args=[plan.pk, 1, 1])
    events = Calendar.from_ical(manager.get(f"{where}?rest=1").content).walk("VEVENT")
    names = {str(event["summary"]).split(":")[0] for event in events}
    wanted = set(plan.areas.filter(program_year=1).values_list("key", flat=True)) - {done.key}
    assert names == wanted and all(event["dtstart"].dt >= later for event in events)


def test_two_plans_side_by_side_tell_crews_money_and_settings_that_differ(plan, manager):
    settings = {**plan.settings, "crews_by_year": {"2": 2}, "budget_per_year": 120_000}
    other = plan_draw(settings=settings, as_of=BEFORE, **WHO)
    where = f"{reverse('plan_compare')}?before={plan.pk}&after={other.pk}"
    context = manager.get(where).context
    second = next(row for row in context["year_rows"] if row["year"] == 2)
    assert second["crews"] == [1, 2] and second["budget"] == [100_000, 120_000]
    assert {(one["name"], one["before"], one["after"]) for one in context["settings"]} == {
        ("budget per year", "100000", "120000"), ("crews by year, 2", "none", "2"),
    }  # fmt: skip
    lines = manager.get(f"{where}&csv=1").content.decode().splitlines()
    assert lines[0].startswith("neighborhood,jobs_before,jobs_after") and len(lines) == 3


def test_the_form_draws_by_the_worker_and_leads_to_the_plan(plan, manager):
    page = manager.get(reverse("plan_new"))
    data = next(form for form in Forms(page.content.decode()).found if "runs" in form.standing())
    data = data.standing() | {"name": "Three crews", "crews": 3, "runs": 200}
    data |= {"closures-0-place": "East", "closures-0-years": "1"}
    data |= {"area_least": 3, "area_target": 6, "area_most": 12}
    answer = manager.post(reverse("plan_new"), data)
    assert answer.status_code == 302
    batch = Batch.objects.get(kind="PLAN")
    assert manager.get(answer.url).status_code == 200
    batch_run(batch=batch)
    assert batch.state == Batch.State.APPLIED
    made = Plan.objects.get(name="Three crews")
    assert manager.get(answer.url).url == reverse("plan", args=[made.pk])
    assert made.areas.filter(neighborhood__name="East", program_year=1).count() == 0
    assert made.drawn_by == "program_manager"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"closures-0-place": "East 1"}, "Moratoria and paving windows: see the rows marked below"),
        ({"frost_from": "12-01"}, "Give both the first and the last day"),
        ({"crews": "-2"}, "greater than or equal to 0"),
    ],
)
def test_a_faulty_form_says_what_to_change(plan, manager, change, words):
    page = manager.get(reverse("plan_new")).content.decode()
    sent = next(form.standing() for form in Forms(page).found if "runs" in form.standing())
    answer = manager.post(reverse("plan_new"), {**sent, **change})
    assert answer.status_code == 422 and words in answer.content.decode()
    shown = Forms(answer.content.decode()).found
    again = next(form.standing() for form in shown if "runs" in form.standing())
    assert {name: again[name] for name in change} == {k: [v] for k, v in change.items()}
    assert not Batch.objects.exists()


def test_a_drawing_that_cannot_be_is_refused_with_its_reason(plan, manager):
    from services_inventory.operations.batches import batch_open

    asked = {"settings": {"crews": 0}, "name": "None", "as_of": BEFORE.isoformat()}
    batch = batch_run(batch=batch_open(kind="PLAN", by="x", at=NOON, parameters=asked))
    assert batch.state == Batch.State.REFUSED and "no crews" in batch.message
    assert "no crews" in manager.get(reverse("plan_run", args=[batch.pk])).content.decode()


def test_lock_split_merge_and_adopt_by_their_buttons(plan, manager):
    area = plan.areas.order_by("-jobs").first()
    to, of = reverse("plan_change", args=[plan.pk]), {"opened": area.pk, "area": area.pk}
    where = reverse("plan_area", args=[plan.pk, area.pk])
    assert manager.get(where).content.decode().count(f'action="{to}"') >= 2
    manager.post(to, {**of, "action": "lock", "year": "2"})
    area.refresh_from_db()
    assert (area.locked, area.program_year) == (True, 2)
    manager.post(to, {**of, "action": "unlock"})
    count = plan.areas.count()
    last = plan.edits.latest("id").pk
    assert manager.post(to, {**of, "action": "split"}).context["effect"].moved
    assert plan.areas.count() == count
    manager.post(to, {**of, "action": "split", "keep": last})
    assert plan.areas.count() == count + 1
    first, second = plan.areas.filter(key__startswith=area.key).order_by("key")[:2]
    both = {"area": [first.pk, second.pk], "action": "merge", "keep": plan.edits.latest("id").pk}
    manager.post(to, both)
    assert plan.areas.count() == count
    manager.post(reverse("plan_adopt", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == "DRAWN"  # changed by hand since it was drawn


def test_adopting_makes_the_packages_and_planned_orders_of_the_season(plan, manager):
    company = Contractor.objects.create(name="Aspen")
    year = plan.result["years"][0]["year"]
    data = {"orders": "1", "year": year, f"share_{company.pk}": ""}
    page = manager.post(reverse("plan_adopt", args=[plan.pk]), data, follow=True).content.decode()
    assert "Nothing was adopted" in page
    data[f"share_{company.pk}"] = 100
    answer = manager.post(reverse("plan_adopt", args=[plan.pk]), data)
    plan.refresh_from_db()
    assert (plan.state, plan.adopted_by) == ("ADOPTED", "program_manager")
    batch_run(batch=Batch.objects.get(kind="PLAN"))
    areas = plan.areas.filter(program_year=year)
    package = WorkPackage.objects.get()
    assert package.contractor == company
    assert package.work_orders.count() == sum(area.lead + area.grr for area in areas) > 0
    assert manager.get(answer.url).url == reverse("plan", args=[plan.pk])


def test_compliance_staff_look_and_change_nothing(plan, client):
    reader = _signed_in(client, COMPLIANCE)
    page = reader.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Adopt this plan" not in page
    for name, args in (("plan_adopt", [plan.pk]), ("plan_orders", [plan.pk]),
                       ("plan_adopt_undo", [plan.pk])):  # fmt: skip
        assert reader.post(reverse(name, args=args)).status_code == 403
    assert reader.get(reverse("plan_new")).status_code == 403


def test_the_board_sorts_and_its_file_spells_its_headings_out(plan, manager):
    rows = manager.get(f"{reverse('plan_list')}?sort=-GRR").context["rows"]
    assert [row["name"] for row in rows][:2] == ["West", "East"]
    rows = manager.get(f"{reverse('plan_list')}?sort=nonsense").context["rows"]
    assert rows[0]["name"] == "East"
    text = manager.get(reverse("plan_board_csv")).content.decode()
    assert "Expected lead or GRR lines among unknown ones" in text.splitlines()[0]


def test_the_map_of_the_board_carries_every_figure_of_the_table(plan, manager):
    square = shapely.to_wkb(shapely.box(-101, 41, -100, 42))
    Neighborhood.objects.filter(name="East").update(boundary_wkb=square)
    (shape,) = manager.get(reverse("plan_board_shapes")).json()["features"]
    rows = {row["name"]: row for row in manager.get(reverse("plan_list")).context["rows"]}
    for key, _ in COLUMNS:
        assert shape["properties"][key] == pytest.approx(rows["East"][key])
    assert shape["properties"]["told"]["LEAD"] == "24"
    assert shape["properties"]["told"]["unknown_share"] == "0%"


def test_an_inspection_list_is_kept_and_estimates_once_its_lines_are_settled(plan, manager):
    data = {"budget": 6, "random_percent": 50, "seed": 1}
    answer = manager.post(reverse("plan_inspections"), data)
    assert not InspectionDraw.objects.exists()
    batch_run(batch=Batch.objects.get(kind="PLAN"))
    assert manager.get(answer.url).url == reverse("plan_unknowns") + "#lists"
    draw = InspectionDraw.objects.get()
    assert len(draw.listed["inspections"]) == 6
    one = manager.get(reverse("plan_unknowns")).context["draws"][0]
    assert one["estimate"] == "No line of this list is settled yet."
    # Every unknown line is on the list; two of the six turn out to be lead.
    for place, (pk, *_) in enumerate(draw.listed["inspections"]):
        ServiceLine.objects.filter(pk=pk).update(category="LEAD" if place < 2 else "NON_LEAD")
    one = manager.get(reverse("plan_unknowns")).context["draws"][0]
    assert one["lead"] == 2 and "About 2 of 6 unknown lines are lead" in one["estimate"]


def test_a_year_that_meets_the_rate_says_its_odds_and_is_not_green_below_nine_in_ten(plan, manager):
    plan.forecast = {"complies": {"3": 0.75, "4": 0.999}}
    plan.save()
    page = manager.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "meets if all goes as planned" in page and "75% of runs" in page
    assert "over 99" in page and page.count('level-GOOD">meets') >= 1
