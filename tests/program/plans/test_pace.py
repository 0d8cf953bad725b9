"""The pace strip of a plan in force: every open line begun waits for one thing, with its list."""

from collections import Counter
from datetime import UTC, date, datetime, timedelta

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.urls import reverse
from django.utils.html import escape

from program.models import LostDay, PoolFreeze, Utility
from program.operations.plans import plan_adopt, plan_draw
from program.queries.planning.pace import WAITS, waiting_lines
from program.queries.planning.stuck import STUCK, stuck_lines, stuck_places
from program.roles import PROGRAM_MANAGER
from replacements.models import Consent, Contractor, OwnerChange, WorkOrder
from services_inventory.models import ServiceLine
from tests.kept import kept

from .towns import QUICK, street, two_hoods

pytestmark = pytest.mark.django_db
DAY = date(2028, 3, 1)
WHO = {"by": "planner", "at": datetime(2028, 3, 1, 12, tzinfo=UTC)}


@pytest.fixture
@kept
def plan():
    two_hoods()
    street(None, "NOWHERE ST", 4, ["LEAD"] * 2, latitude=None, longitude=None)
    Utility.objects.create(name="Town", clock_stands_at=DAY + timedelta(250))
    PoolFreeze.objects.create(
        program_year=1, frozen_for=date(2027, 11, 1), size=44, lead=26, grr=12, unknown=6,
        carried=44, added=0, removed=0, line_list_sha256="0" * 64, frozen_by="x",
        frozen_at=WHO["at"],
    )  # fmt: skip
    plan = plan_draw(settings={**QUICK, "crews": 1}, as_of=DAY, **WHO)
    plan_adopt(plan=plan, reason="the first", **WHO)
    return plan


@pytest.fixture
def manager(client):
    user = get_user_model().objects.create_user("planner")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client.force_login(user)
    return client


def _answer(line, answer, day=DAY):
    Consent.objects.create(
        line=line, answer=answer, answered_on=day, recorded_by="x", recorded_at=WHO["at"]
    )


def _order(line, state):
    contractor, _ = Contractor.objects.get_or_create(name="Pull & Sons")
    WorkOrder.objects.create(
        number=f"O-{line.pk}", line=line, contractor=contractor, state=state,
        created_by="x", created_at=WHO["at"],
    )  # fmt: skip


def test_every_open_line_begun_waits_for_one_thing(plan):
    year, later = 1, DAY + timedelta(250)
    lines = list(waiting_lines(plan, year, later).filter(category="LEAD").order_by("pk"))
    assert len(lines) >= 9 and {line.waits for line in lines} == {"NO_CONSENT"}
    for line in lines[1:8]:
        _answer(line, "GIVEN")
    _answer(lines[2], "REFUSED", DAY + timedelta(1))
    for line, state in zip(
        lines[3:7], ("PLANNED", "RELEASED", "HANDED_IN", "RETURNED"), strict=True
    ):
        _order(line, state)
    _order(lines[0], "PLANNED")  # without consent, it is consent that it waits for
    # The answer of an earlier owner is none.
    OwnerChange.objects.create(
        premise=lines[7].premise, changed_on=DAY + timedelta(2), recorded_by="x",
        recorded_at=WHO["at"],
    )  # fmt: skip
    ServiceLine.objects.filter(pk=lines[8].pk).update(category="NON_LEAD")
    found = {line.pk: line.waits for line in waiting_lines(plan, year, later)}
    wanted = ("NO_CONSENT", "NO_ORDER", "REFUSED", "PLANNED", "RELEASED", "REVIEW", "RETURNED")
    assert tuple(found[line.pk] for line in lines[:7]) == wanted
    assert found[lines[7].pk] == "NO_CONSENT" and lines[8].pk not in found
    assert set(found.values()) <= set(WAITS)


def test_the_strip_and_its_lists_agree(plan, manager):
    answer = manager.get(reverse("plan_pace", args=[plan.pk]))
    pace = answer.context["pace"]
    rows = waiting_lines(plan, 1, DAY + timedelta(250))
    assert Counter(row.waits for row in rows) == {c.key: c.number for c in pace.waits}
    assert pace.waiting == len(rows) > 0
    assert {c.key: c.number for c in pace.others}["position"] == 2
    for cause in pace.waits:
        listed = manager.get(f"{reverse('plan_pace', args=[plan.pk])}?waits={cause.key}")
        assert listed.context["number"] == cause.number
    csv = manager.get(f"{reverse('plan_pace_csv', args=[plan.pk])}?lines=1").content.decode()
    assert csv.count("\n") == pace.waiting + 1
    weeks = manager.get(reverse("plan_pace_csv", args=[plan.pk])).content.decode()
    assert weeks.count("\n") == len(pace.weeks) + 1
    # The forecast's year end stands around what the plan lays on the year.
    end = pace.weeks[-1]
    assert end.low <= end.high and end.planned > 0


def test_the_board_shows_the_strip_of_the_plan_in_force(plan, manager):
    page = manager.get(reverse("board"))
    assert page.context["pace"].plan == plan
    assert escape(page.context["pace"].sentence()) in page.content.decode()


def test_without_a_plan_in_force_the_need_is_shown_alone(plan, manager):
    type(plan).objects.update(state="DRAWN")
    pace = manager.get(reverse("board")).context["pace"]
    assert pace.plan is None and {week.planned for week in pace.weeks} == {None}
    assert [cause.key for cause in pace.others] == ["position"]


def test_without_a_program_year_there_is_no_strip(plan, manager):
    Utility.objects.update(clock_stands_at=date(2027, 3, 1))
    assert manager.get(reverse("board")).context["pace"] is None
    assert manager.get(reverse("plan_pace", args=[plan.pk])).status_code == 200


def test_days_that_weather_took_are_recorded_count_and_are_taken_back(plan, manager):
    page = reverse("plan_pace", args=[plan.pk])

    def weather():
        causes = manager.get(page).context["pace"].others
        return next(cause for cause in causes if cause.key == "WEATHER")

    def sent(**given):
        given = {"first": "2028-06-05", "reason": "Storm", **given}
        return manager.post(reverse("plan_lost_day", args=[plan.pk]), given)

    assert weather().number == 0 and "the plan allows for" in weather().label
    # Monday to Sunday: work is on Monday to Thursday.
    assert sent(last="2028-06-11").status_code == 302
    assert LostDay.objects.count() == 4 and weather().number == 4
    for given, told in (
        ({}, "On record already: Jun 5, 2028, every crew: Storm."),
        ({"crew": "1"}, "On record already"),
        ({"first": "2028-06-11"}, "no working day on Jun 11, 2028"),
        ({"first": "2030-01-01"}, "this day is still to come"),
        ({"first": "2028-06-19", "last": "2028-06-12"}, "before the first day"),
        ({"first": "2028-06-19", "crew": "7"}, "7 is not one of the available choices"),
        ({"first": "2028-06-19", "reason": " "}, "required"),
    ):
        answer = sent(**given)
        assert answer.status_code == 422 and told in answer.content.decode(), told
        assert given.get("first", "2028-06-05") in answer.content.decode()
    first = LostDay.objects.order_by("day").first()
    back = reverse("plan_lost_day_back", args=[plan.pk])
    manager.post(back, {"day": first.pk})
    assert weather().number == 3 and "Jun 5, 2028" not in manager.get(page).content.decode()
    manager.post(back, {"day": first.pk})
    assert "not on record as lost any more" in manager.get(page).content.decode()
    # What was taken back can be put otherwise.
    assert sent(crew="1").status_code == 302 and weather().number == 4
    row = LostDay.objects.get(pk=first.pk)
    assert (row.taken_back_by, row.reason) == ("planner", "Storm")


def test_every_number_of_the_maps_opens_as_many_lines(plan, manager):
    later = DAY + timedelta(250)
    lead = list(ServiceLine.objects.filter(category="LEAD").order_by("pk")[:6])
    _answer(lead[0], "GIVEN")
    _answer(lead[1], "GIVEN")
    _answer(lead[1], "REVOKED", DAY + timedelta(2))
    _answer(lead[2], "REFUSED")
    OwnerChange.objects.create(
        premise=lead[2].premise, changed_on=DAY + timedelta(3), recorded_by="x",
        recorded_at=WHO["at"],
    )  # fmt: skip
    _order(lead[3], "HANDED_IN")
    _order(lead[4], "RELEASED")
    found = {place.key: place.numbers for place in stuck_places(later)}
    known = ServiceLine.objects.filter(category__in=("LEAD", "GRR")).count()
    sums = {kind: sum(numbers[kind] for numbers in found.values()) for kind in STUCK}
    unknown = ServiceLine.objects.filter(category="UNKNOWN").count()
    assert sums == {"UNKNOWN": unknown, "REFUSED": 1, "NO_CONSENT": known - 4, "REVIEW": 1}
    assert found["none"]["NO_CONSENT"] == 2  # the street that lies nowhere
    for key, numbers in found.items():
        for kind, number in numbers.items():
            assert stuck_lines(kind, later, key).count() == number
            csv = manager.get(
                reverse("stuck_csv"), {"kind": kind, "neighborhood": key}
            ).content.decode()
            assert len(csv.splitlines()) == 1 + number
    part = manager.get(reverse("stuck_board")).content.decode()
    refused = f"{reverse('stuck')}?kind=REFUSED"
    assert f'href="{refused}"><b>1</b>' in part and "1 owner who refused" in part
    assert lead[1].premise.address in manager.get(refused).content.decode()
    assert manager.get(refused + "&neighborhood=x").status_code == 400
    assert manager.get(reverse("stuck_csv")).status_code == 404
