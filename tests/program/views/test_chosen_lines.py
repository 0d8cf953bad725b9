"""What may be done with lines chosen by filters: counted beforehand, done, called off again."""

import pytest
from django.urls import reverse

from program.models import Notice, Utility
from program.notices.printing import to_print
from program.notices.templates_text import NoticeKind
from program.roles import COMPLIANCE, PROGRAM_MANAGER
from replacements.models import Consent, WorkOrder, WorkPackage
from services_inventory.models import Neighborhood, ServiceLine
from tests.program.plans.test_views import _signed_in
from tests.program.plans.towns import BEFORE, NOON, two_hoods
from tests.replacements.factories import contractor, order

pytestmark = pytest.mark.django_db


@pytest.fixture
def town():
    """24 lead lines in East: one ordered, one whose owner refused after agreeing."""
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    east, _ = two_hoods()
    lines = list(ServiceLine.objects.filter(neighborhood=east).order_by("id"))
    heron = contractor("Heron")
    order(heron, lines[0])
    for answer in ("GIVEN", "REFUSED"):
        Consent.objects.create(
            line=lines[1], answer=answer, answered_on=BEFORE, given_by="Sage", recorded_by="x",
            recorded_at=NOON,
        )  # fmt: skip
    return lines


def in_east() -> str:
    return f"?neighborhood={Neighborhood.objects.get(name='East').pk}"


def test_what_can_be_ordered_is_counted_made_and_called_off(town, client):
    manager = _signed_in(client, PROGRAM_MANAGER)
    can = manager.get(reverse("chosen_lines") + in_east()).context["can"]
    assert (can.number, can.ordered, can.refused, can.unknown, can.settled) == (22, 1, 1, 0, 0)
    form = {"contractor": WorkOrder.objects.get().contractor_id, "name": "East side",
            "due_on": "2027-09-30"}  # fmt: skip
    done = manager.post(reverse("chosen_orders") + in_east(), form, follow=True)
    package = WorkPackage.objects.get(name="East side")
    assert "22 planned orders made" in done.content.decode()
    ordered = set(package.work_orders.values_list("line_id", flat=True))
    assert ordered == {line.pk for line in town[2:]}
    again = manager.post(reverse("chosen_orders") + in_east(), form)
    assert again.status_code == 422 and "None of these lines" in again.content.decode()
    back = reverse("package_call_off", args=[package.pk])
    assert "Say why" in manager.post(back, {}, follow=True).content.decode()
    said = manager.post(back, {"reason": "wrong side"}, follow=True).content.decode()
    assert "22 planned orders are called off" in said
    assert manager.get(reverse("chosen_lines") + in_east()).context["can"].number == 22
    taken = manager.post(reverse("chosen_orders") + in_east(), form)
    assert taken.status_code == 422 and "has a package East side already" in taken.content.decode()


def test_unreadable_filters_choose_nothing(town, client):
    manager = _signed_in(client, PROGRAM_MANAGER)
    page = manager.get(reverse("chosen_lines"), {"within": "1,1;2,2"})
    assert page.context["can"].number == 0 and "Nothing is chosen" in page.content.decode()


def test_letters_are_printed_to_the_chosen_lines_alone(town, client):
    for line in (town[3], ServiceLine.objects.get(location_id="CEDAR ST-001")):
        Notice.objects.create(line=line, kind="LEAD", due_on=BEFORE)
    staff = _signed_in(client, COMPLIANCE)
    page = staff.get(reverse("chosen_lines") + in_east())
    assert [(row["kind"], row["number"]) for row in page.context["waiting"]] == [("LEAD", 1)]
    assert page.context["can"] is None
    asked = in_east()[1:]
    assert [one.line for one in to_print(NoticeKind.LEAD, BEFORE, asked)] == [town[3]]
    assert to_print(NoticeKind.LEAD, BEFORE).count() == 2
