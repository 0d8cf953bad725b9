"""Customers' own work in the browser: from the public message to the calendar and its feed."""

from datetime import date

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse
from icalendar import Calendar

from program.models import CustomerWork, CustomerWorkStep, Inquiry
from program.roles import COMPLIANCE
from tests.program.operations.factories import line, utility

pytestmark = pytest.mark.django_db


@pytest.fixture
def staff(client):
    utility()
    user = User.objects.create_user("office", password="a long pass phrase")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    return client


def test_from_the_public_message_to_the_calendar_the_line_and_the_feed(staff):
    lead = line("LEAD", "LEAD")
    asked = {
        "kind": "REPLACED_BY_OWNER",
        "address_given": lead.location_id,
        "replaced_on": "2030-12-20",
        "message": "I had it replaced.",
    }
    staff.post(reverse("public:tell_us", args=["en"]), asked, follow=True)
    inquiry = Inquiry.objects.get()
    staff.post(reverse("inquiry_place", args=[inquiry.pk]), {"location_id": lead.location_id})
    page = staff.get(reverse("inquiry", args=[inquiry.pk])).content.decode()
    address = f"{reverse('customer_work', args=[lead.pk])}?inquiry={inquiry.pk}"
    assert address in page
    form = staff.get(address).context["form"]
    assert form.initial["done_on"] == date(2030, 12, 20)
    said = {**form.initial, "inquiry": inquiry.pk, "planned_on": ""}
    page = staff.post(reverse("customer_work_record", args=[lead.pk]), said, follow=True)
    work = CustomerWork.objects.get()
    assert (work.inquiry, work.told_on) == (inquiry, inquiry.received_on)
    due = "Mar 1, 2031"  # 45 days from Jan 15, 2031, when the system learned of it
    assert due in page.content.decode()
    part = reverse("line_due", args=[lead.pk])
    assert part in staff.get(reverse("line", args=[lead.pk])).content.decode()
    assert due in staff.get(part).content.decode()
    listed = staff.get(reverse("deadline_list"), {"about": lead.location_id})
    assert "System side replaced" in listed.content.decode()
    feed = staff.get(listed.context["feed"]).content
    events = Calendar.from_ical(feed).walk("VEVENT")
    assert date(2031, 3, 1) in {event["DTSTART"].dt for event in events}
    assert all(
        lead.location_id in str(e["SUMMARY"]) + str(e.get("DESCRIPTION"))
        or "inquiry" in str(e["SUMMARY"]) + str(e.get("DESCRIPTION"))
        for e in events
    )


def test_steps_are_recorded_refused_and_taken_back_with_sentences(staff):
    lead = line("LEAD", "LEAD")
    where = reverse("customer_work_record", args=[lead.pk])
    page = staff.post(where, {"told_on": "2031-01-02", "source": "call"}, follow=True)
    assert "Give the day for which the customer plans" in page.content.decode()
    staff.post(where, {"told_on": "2031-01-02", "planned_on": "2031-02-01", "source": "call"})
    work = CustomerWork.objects.get()
    step = reverse("customer_work_step", args=[work.pk])
    page = staff.post(
        step, {"kind": "STATE_TOLD", "happened_on": "2031-01-10", "source": "mail"}, follow=True
    )
    assert "Record first why" in page.content.decode()
    staff.post(step, {"kind": "EXTENDED", "happened_on": "2031-01-10", "source": "frozen ground"})
    extended = CustomerWorkStep.objects.get()
    back = reverse("customer_step_take_back", args=[extended.pk])
    page = staff.post(back, {"reason": "thawed"}, follow=True).content.decode()
    assert "thawed" in page
    whole = reverse("customer_work_take_back", args=[work.pk])
    page = staff.post(whole, {"reason": "gave it up"}, follow=True).content.decode()
    assert "gave it up" in page and "Record what was told" in page
    assert staff.get(reverse("customer_work_list")).status_code == 200


def test_asking_about_what_is_not_there_is_a_sentence(staff):
    page = staff.get(reverse("deadline_list"), {"about": "nowhere at all"}).content.decode()
    assert "Nothing is called" in page and "Show everything" in page
