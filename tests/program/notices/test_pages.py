"""The staff's pages of notices, inquiries and tiers: who may open them, and what they do."""

import csv
import io
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import Group, User
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile

from program.models import Inquiry, Notice, NoticeBatch, NoticeReturn, NoticeSlot, Utility
from program.notices.templates_text import NoticeKind, Wording, blocks_of
from program.operations.inquiries import inquiry_receive
from program.operations.notices import notices_owe
from program.roles import COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER
from services_inventory.domain.addresses import normalize
from services_inventory.models import Batch, Premise
from services_inventory.operations.batches import batch_claim, batch_run
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db
TODAY = date(2028, 5, 10)
PAGES = [
    "/program/notices/", "/program/notices/owed/", "/program/notices/wording/",
    "/program/notices/wording/health_effects/en/", "/program/notices/certificate/2027/",
    "/program/notices/certificate/2027.csv", "/program/inquiries/", "/program/sampling/tiers/",
]  # fmt: skip


@pytest.fixture(autouse=True)
def utility():
    cache.clear()
    return Utility.objects.create(
        name="Quillwater Water", pwsid="ZZ0000001", state="ZZ", phone="555-0100",
        population=20_000, website="water.example", return_address="1 Mill Street\nQuillwater",
        clock_stands_at=TODAY,
    )  # fmt: skip


def sign_in(client, role):
    user, made = User.objects.get_or_create(username=role)
    if made:
        user.groups.add(Group.objects.get(name=role))
    client.force_login(user)


@pytest.mark.parametrize("page", PAGES)
def test_nobody_signs_in_first_and_a_contractor_is_refused(client, page):
    assert client.get(page).status_code == 302
    sign_in(client, CONTRACTOR)
    assert client.get(page).status_code == 403


@pytest.mark.parametrize("page", PAGES)
def test_compliance_staff_open_every_page(client, page):
    line_of("LEAD", "LEAD")
    notices_owe(TODAY)
    sign_in(client, COMPLIANCE)
    answer = client.get(page)
    assert answer.status_code == 200


def test_a_program_manager_does_not_send_notices(client):
    sign_in(client, PROGRAM_MANAGER)
    assert client.get("/program/notices/").status_code == 403
    assert client.get("/program/sampling/tiers/").status_code == 200


def test_from_owing_to_posting_and_back(client):
    """The whole way, by the pages alone."""
    line_of("LEAD", "LEAD", address="12 Mill St")
    sign_in(client, COMPLIANCE)
    run = client.post("/program/notices/owe/").url
    batch_run(batch=batch_claim())
    assert "1 notices were added" in client.get(run).text
    assert "overdue" in client.get("/program/notices/").text

    asked = {"kind": "LEAD", "due_by": "2028-12-31", "languages": ["en"]}
    run = client.post("/program/notices/print/", asked).url
    batch_run(batch=batch_claim())
    assert "does not write it" in client.get(run).text

    for block in blocks_of(NoticeKind.LEAD):
        if block.wording is not Wording.OWN:
            text = {"text": "Agency words.", "taken_from": "Handbook 2028, p. 4"}
            client.post(f"/program/notices/wording/{block.id}/en/", text)
    assert NoticeSlot.objects.get(slot="health_effects").kind == "ALL"
    run = client.post("/program/notices/print/", asked).url
    batch_run(batch=batch_claim())
    page = client.get(run)
    printing = NoticeBatch.objects.get()
    name = printing.files[0]["name"]
    assert name in page.text
    sent = client.get(f"/program/notices/printings/{printing.pk}/files/{name}")
    assert b"".join(sent.streaming_content).startswith(b"%PDF-")

    proof = SimpleUploadedFile("receipt.pdf", b"%PDF-1.4 receipt", "application/pdf")
    NoticeBatch.objects.update(made_at=MORNING)
    client.post(
        f"/program/notices/printings/{printing.pk}/deliver/",
        {"on": "2028-05-09", "means": "POST", "proof": proof},
    )
    notice = Notice.objects.get()
    assert (notice.delivered_on, notice.delivered_by) == (date(2028, 5, 9), "POST")
    assert client.get(f"/program/notices/printings/{printing.pk}/proof/").status_code == 200

    found = client.get("/program/notices/find/", {"reference": f"N-{notice.pk}"})
    client.post(found.url + "return/", {"on": "2028-05-10", "why": "Vacant"})
    assert "Vacant" in client.get(found.url).text
    assert Notice.objects.open().count() == 1
    _undo_return_and_delivery(client, notice, printing)


def _undo_return_and_delivery(client, notice, printing):
    returned = NoticeReturn.objects.get()
    client.post(f"/program/notices/returns/{returned.pk}/withdraw/", {"why": "misread"})
    page = f"/program/notices/{notice.pk}/"
    assert "Taken back: misread" in client.get(page).text
    pile = {"numbers": f"N-{notice.pk}, n-{notice.pk}\n", "on": "2028-05-10", "why": "Moved"}
    answer = client.post("/program/notices/returns/", pile, follow=True)
    assert "Recorded as come back: 1." in answer.text
    bad = client.post("/program/notices/returns/", {**pile, "numbers": "N-1 x"}, follow=True)
    assert "these do not: x" in bad.text
    client.post(page + "deliver/", {"on": "2028-05-10", "means": "BY_HAND"})
    client.post(page + "correct/", {"on": "2028-05-09", "means": "BY_HAND", "why": "slip"})
    assert "by hand became 2028-05-09" in client.get(page).text
    where = {"on": "", "means": "POST", "why": "never posted"}
    client.post(f"/program/notices/printings/{printing.pk}/correct/", where)
    printing.refresh_from_db()
    assert printing.delivered_on is None
    Premise.objects.update(address_key=normalize("12 Mill St").key)
    found = client.get("/program/notices/find/", {"reference": "12 mill street"})
    assert f"N-{notice.pk}" in found.text and "delivered May 9, 2028, by hand" in found.text
    owed = b"".join(client.get("/program/notices/owed.csv").streaming_content).decode()
    assert owed.startswith("reference,kind,location_id")


def test_planned_partial_work_starts_its_clock_and_says_when_it_is_late(client):
    line = line_of("LEAD", "LEAD")
    sign_in(client, COMPLIANCE)
    asked = {"location_id": line.location_id, "event": "PLANNED_PARTIAL", "on": "2028-06-01"}
    page = client.post("/program/notices/add/", asked, follow=True)
    assert "Partial replacement" in page.text and "it is late" in page.text
    none = client.post("/program/notices/add/", {**asked, "location_id": "X"}, follow=True)
    assert "There is no line with this location identifier" in none.text


def test_a_file_that_the_printing_does_not_list_is_not_there(client):
    sign_in(client, COMPLIANCE)
    batch = Batch.objects.create(kind="LETTERS", requested_by="c", created_at=MORNING)
    made = NoticeBatch.objects.create(
        kind="LEAD", year=2028, batch=batch, made_by="c", made_at=MORNING
    )
    for name in ("x.pdf", "..%2f..%2fsecret_key"):
        assert client.get(f"/program/notices/printings/{made.pk}/files/{name}").status_code == 404


def test_the_certificate_counts_delivered_late_and_missing(client):
    lines = [line_of("LEAD", "LEAD", address=f"=1+{n}") for n in range(3)]
    notices_owe(date(2028, 3, 1))  # due on 31 March 2028
    for line, day in ((lines[0], 20), (lines[1], 40)):
        on = date(2028, 3, 1) + timedelta(days=day)
        Notice.objects.filter(line=line).update(delivered_on=on, delivered_by="POST")
    Utility.objects.update(clock_stands_at=date(2029, 1, 5))
    sign_in(client, COMPLIANCE)
    found = client.get("/program/notices/certificate/2028/").context["found"]
    assert (found["delivered"], found["missing"]) == (2, 1)
    assert found["rows"][0]["late"] == 1 and found["due_on"] == date(2029, 7, 1)
    answer = client.get("/program/notices/certificate/2028.csv")
    text = b"".join(answer.streaming_content).decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["days_late"] for row in rows] == ["0", "10", ""]
    assert all(row["address"].startswith("'=") for row in rows)


def test_an_inquiry_is_placed_inspected_and_answered_by_letter(client):
    line = line_of("LEAD", "LEAD")
    inquiry = inquiry_receive(
        kind="WRONG_CATEGORY", address_given="12 Mill", at=MORNING, received_on=date(2028, 5, 1)
    )
    sign_in(client, COMPLIANCE)
    assert "not found yet" in client.get("/program/inquiries/").text
    page = f"/program/inquiries/{inquiry.pk}/"
    client.post(page + "place/", {"location_id": line.location_id})
    client.post(page + "inspect/", {"note": "Crew 2 looks", "inspected_on": "2028-05-08"})
    assert "Crew 2 looks" in client.get(page + "order/").text
    client.post(page + "answer/", {"answer": "It is lead.", "on": "2028-05-10", "by_letter": "on"})
    assert line.location_id in client.get("/program/inquiries/", {"q": line.location_id}).text
    sent = b"".join(client.get("/program/inquiries.csv").streaming_content).decode()
    assert f"{inquiry.pk},WRONG_CATEGORY,2028-05-01" in sent
    inquiry = Inquiry.objects.get()
    assert inquiry.line == line and inquiry.answered_on == TODAY
    assert Notice.objects.get().kind == "DISPUTE_REPLY"
    # 60 days after the inspection: rule value INVENTORY_CORRECTION_DAYS
    assert "Jul 7, 2028" in client.get(page).text


def test_tiers_follow_category_connector_and_building(client):
    homes = [line_of("LEAD", "COPPER"), line_of("LEAD", "COPPER"), line_of()]
    Premise.objects.filter(pk=homes[0].premise_id).update(kind="SINGLE_FAMILY")
    sign_in(client, COMPLIANCE)
    page = client.get("/program/sampling/tiers/", {"tier": 1})
    numbers = {row["level"]: row["number"] for row in page.context["tiers"]}
    assert numbers == {1: 1, 2: 1, 3: 0, 4: 0, 5: 0}
    assert page.context["none"]["number"] == 1
    assert [site["location"] for site in page.context["sites"]] == [homes[0].location_id]
    # 10,001 to 100,000 persons: 60 sites in standard monitoring, 30 in reduced
    assert (page.context["found"].standard, page.context["found"].reduced) == (60, 30)
    text = client.get("/program/sampling/tiers/2.csv").text
    assert homes[1].location_id in text and homes[0].location_id not in text
