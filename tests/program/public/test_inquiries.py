"""The public form. The 60 days: 89 FR 86418, Exhibit 1. The rest is constructed."""

from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from program.models import Inquiry, Notice, Utility
from program.operations.inquiries import (
    inquiry_agreed,
    inquiry_answer,
    inquiry_answer_more,
    inquiry_inspect,
    inquiry_place,
    inquiry_receive,
)
from program.queries.inquiries import COLUMNS, inquiry_page, inquiry_rows
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise
from services_inventory.refused import Refused
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db
FORM = "/public/en/tell-us/"
JPEG = b"\xff\xd8\xff\xe0" + b"0" * 100


@pytest.fixture(autouse=True)
def _utility():
    cache.clear()
    Utility.objects.create(name="Quillwater Water", clock_stands_at=date(2028, 3, 1))


def given(**more):
    return {"kind": "WRONG_CATEGORY", "address_given": "12 Mill St", "message": "copper", **more}


def test_a_message_starts_a_clock_of_60_days(client):
    line = line_of("LEAD", "LEAD")
    answer = client.post(FORM, given(address_given=line.location_id), follow=True)
    inquiry = Inquiry.objects.get()
    assert (inquiry.line, inquiry.due_on) == (line, date(2028, 4, 30))
    assert "Apr 30, 2028" in answer.text


def test_a_photo_is_kept_by_content_and_a_script_is_refused(client):
    photo = SimpleUploadedFile("pipe.jpg", JPEG, "image/jpeg")
    client.post(FORM, given(photo=photo))
    assert Inquiry.objects.get().photo.content_type == "image/jpeg"
    bad = SimpleUploadedFile("pipe.jpg", b"<html><script>", "image/jpeg")
    refused = client.post(FORM, given(photo=bad))
    assert refused.status_code == 422 and "whatever its name says" in refused.text
    assert Inquiry.objects.count() == 1


def test_a_machine_that_fills_the_hidden_field_is_thanked_and_forgotten(client):
    assert client.post(FORM, given(web_page="http://spam")).status_code == 302
    assert not Inquiry.objects.exists()


def test_a_replacement_in_days_to_come_is_refused(client):
    sent = given(kind="REPLACED_BY_OWNER", replaced_on="2028-03-02")
    answer = client.post(FORM, sent)
    assert answer.status_code == 422 and "lies ahead" in answer.text


def test_one_network_may_send_eight_an_hour(client, monkeypatch):
    monkeypatch.setattr("services_inventory.asked_often.time", lambda: 1_000_000.0)
    statuses = [client.post(FORM, given()).status_code for _ in range(9)]
    assert statuses == [302] * 8 + [429]


def test_the_form_is_protected_against_other_sites(client):
    from django.test import Client

    assert Client(enforce_csrf_checks=True).post(FORM, given()).status_code == 403


def test_an_answer_by_letter_goes_on_the_list_of_letters():
    line = line_of("LEAD", "LEAD")
    inquiry = inquiry_receive(
        kind="WRONG_CATEGORY", address_given="x", line=line, at=MORNING,
        received_on=date(2028, 3, 1),
    )  # fmt: skip
    today = date(2028, 3, 20)
    inquiry_answer(
        inquiry=inquiry, answer="We looked; it is lead.", on=today, by="c", as_of=today,
        by_letter=True,
    )  # fmt: skip
    notice = Notice.objects.get(kind="DISPUTE_REPLY")
    assert notice.due_on == date(2028, 4, 30)
    assert notice.values["finding"] == "We looked; it is lead"
    with pytest.raises(Refused, match="Answered already"):
        inquiry_answer(inquiry=inquiry, answer="again", on=today, by="c", as_of=today)


def test_a_long_address_and_control_characters_are_a_sentence_not_an_error(client):
    answer = client.post(FORM, given(address_given="x" * 300))
    assert answer.status_code == 422
    answer = client.post(FORM, given(message="a\x00b"))
    assert answer.status_code == 400 and "message" in answer.text
    assert not Inquiry.objects.exists()


def test_every_field_of_the_form_has_a_label(client):
    page = client.get(reverse("public:tell_us", kwargs={"language": "en"})).text
    for name in ("address_given", "message", "replaced_on", "photo", "name", "contact"):
        assert f'for="id_{name}"' in page


def received(**more):
    given = {"kind": "WRONG_CATEGORY", "address_given": "12 Mill St", "at": MORNING}
    return inquiry_receive(**{**given, "received_on": date(2028, 3, 1), **more})


def test_an_order_to_inspect_says_who_gave_it_and_when():
    inquiry = received()
    ordered, seen = date(2028, 3, 4), date(2028, 3, 9)
    inquiry_inspect(inquiry=inquiry, note="Crew 2", inspected_on=None, as_of=ordered, by="ana")
    inquiry_inspect(inquiry=inquiry, note="Crew 2", inspected_on=seen, as_of=seen, by="bo")
    inquiry.refresh_from_db()
    said = (inquiry.inspection_ordered_on, inquiry.inspection_ordered_by, inquiry.inspected_on)
    assert said == (ordered, "ana", seen)
    with pytest.raises(Refused, match="Give a day"):
        inquiry_inspect(
            inquiry=inquiry, note="", inspected_on=date(2028, 2, 1), as_of=seen, by="bo"
        )


def test_an_answer_is_added_to_and_never_written_over():
    inquiry = received(line=line_of("LEAD", "LEAD"))
    day = date(2028, 3, 20)
    with pytest.raises(Refused, match="no answer yet"):
        inquiry_answer_more(inquiry=inquiry, answer="x", on=day, by="c", as_of=day)
    inquiry_answer(inquiry=inquiry, answer="It is lead.", on=day, by="c", as_of=day, by_letter=True)
    later = date(2028, 3, 25)
    inquiry_answer_more(
        inquiry=inquiry, answer="It is copper.", on=later, by="c", as_of=later, by_letter=True
    )
    inquiry.refresh_from_db()
    assert inquiry.answer == "It is lead.\n\nMar 25, 2028, c: It is copper."
    assert inquiry.answered_on == day
    assert Notice.objects.filter(kind="DISPUTE_REPLY").count() == 2
    with pytest.raises(Refused, match="answer stays with the line"):
        inquiry_place(inquiry=inquiry, line=line_of("COPPER", "COPPER"))


def test_open_messages_come_by_their_last_day_page_by_page():
    days = [date(2028, 2, 1 + number % 28) for number in range(60)]
    for day in days:
        received(received_on=day)
    first, mark = inquiry_page(answered=False, text="", after="")
    rest, end = inquiry_page(answered=False, text="", after=mark)
    assert [len(first), len(rest), end] == [50, 10, ""]
    dues = [inquiry.due_on for inquiry in first + rest]
    assert dues == sorted(dues) and len({i.pk for i in first + rest}) == 60


def test_a_message_is_found_by_number_line_and_address():
    line = line_of("LEAD", "LEAD", address="12 Mill St")
    Premise.objects.update(address_key=normalize("12 Mill St").key)
    wanted, _other = received(line=line, address_given="near the mill"), received(name="Ana")
    for text in (str(wanted.pk), line.location_id, "12 mill street", "near the mill"):
        assert wanted in inquiry_page(answered=False, text=text, after="")[0]
    assert inquiry_page(answered=False, text="Nobody Rd", after="") == ([], "")


def test_the_list_for_a_report_names_nobody():
    received(name="Ana Invented", contact="000-000-0199", address_given="=1+1")
    row = dict(zip(COLUMNS, next(inquiry_rows()), strict=True))
    assert row["answer_by"] == date(2028, 4, 30) and row["photo"] == "no"
    assert "Ana Invented" not in map(str, row.values())


@pytest.mark.parametrize("kind", ["OWNER_PLANS", "WATER_TEST"])
def test_a_plan_to_replace_and_a_water_test_reach_the_staff(client, kind):
    assert client.post(FORM, given(kind=kind)).status_code == 302
    assert Inquiry.objects.get().kind == kind


def test_a_photo_of_the_pipe_needs_the_photo_and_keeps_what_was_typed(client):
    answer = client.post(FORM, given(kind="PIPE_PHOTO", name="R. Sample"))
    assert answer.status_code == 422 and not Inquiry.objects.exists()
    assert "Choose the photo of the pipe." in answer.content.decode()
    assert "R. Sample" in answer.content.decode()


def test_who_agrees_on_line_is_checked_by_staff_before_it_counts_as_consent(client):
    line = line_of("LEAD", "LEAD", address="12 Mill St")
    answer = client.post(FORM, given(kind="OWNER_AGREES"))
    assert answer.status_code == 422 and "plan the work with you" in answer.text
    agrees = given(kind="OWNER_AGREES", name="R. Sample", contact="000-000-0199")
    assert client.post(FORM, agrees).status_code == 302
    inquiry = Inquiry.objects.get()
    moment = {"checked": "county roll", "by": "clerk", "at": MORNING + timedelta(days=9)}
    inquiry.line = None
    with pytest.raises(Refused, match="which line"):
        inquiry_agreed(inquiry=inquiry, **moment)
    assert not line.consents.exists()
    inquiry_place(inquiry=inquiry, line=line)
    consent = inquiry_agreed(inquiry=inquiry, **moment)
    assert (consent.given_by, consent.answer) == ("R. Sample", "GIVEN")
    assert consent.note.endswith("county roll")
    with pytest.raises(Refused, match="already"):
        inquiry_agreed(inquiry=inquiry, **moment)
    with pytest.raises(Refused, match="does not agree"):
        inquiry_agreed(inquiry=received(line=line), **moment)
