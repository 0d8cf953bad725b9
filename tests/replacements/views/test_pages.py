"""Pages of the work by role: who may open them, what they find there, what a form does."""

from datetime import UTC, datetime
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from replacements.forms.orders import OrderForm
from replacements.models import (
    AssemblyAnswer,
    CompletionRecord,
    Component,
    Consent,
    ContactAttempt,
    Replacement,
    WorkOrder,
)
from replacements.operations.pulls import estimate_make
from replacements.urls import urlpatterns
from tests.replacements.factories import (
    AT,
    DAY,
    contractor,
    good_answers,
    handed_in,
    order,
    photos,
    pull,
    started,
    string,
    tools,
    user,
)
from tests.replacements.logs_made import make_clean_log
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db


def picture() -> bytes:
    """Return a small picture that can be drawn anew."""
    out = BytesIO()
    Image.new("RGB", (40, 30), "#8899aa").save(out, "PNG")
    return out.getvalue()


@pytest.fixture(autouse=True)
def _day(monkeypatch):
    """Let the pages stand on the day after the work."""
    moment = datetime(2028, 4, 14, 16, tzinfo=UTC)
    monkeypatch.setattr("program.clock.now", lambda: moment)
    monkeypatch.setattr("program.clock.today", lambda: moment.date())


@pytest.fixture
def company():
    return contractor("Quarry Lane Underground")


def signed_in(client, name, role, of=None):
    client.force_login(user(name, role, of))
    return client


def full_order(company):
    """Return an order with everything on it, handed in and waiting."""
    work = order(company, joints=[])
    made = string(work)
    estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    started(work)
    pulled = pull(work, seed=4)
    handed_in(work, pull=pulled, tool_string=made)
    return work


PAGES = ("access", "completions", "contractors", "orders", "pulls", "sheets", "tools")


def addresses(work):
    """Return every address of the work that names a thing of one company, by URL name."""
    record = work.completions.first()
    things = {
        "review": record.pk if record else 0,
        "component": Component.objects.filter(contractor=work.contractor).first().pk,
        "readiness": work.contractor_id,
        "work_document": work.pulls.first().log_id,
    }
    return {
        pattern.name: reverse(
            pattern.name,
            kwargs=dict.fromkeys(pattern.pattern.converters, 1)
            | {"pk": things.get(pattern.name, work.pk)},
        )
        for pattern in urlpatterns
        if "<int:pk>" in str(pattern.pattern)
        and pattern.callback.view_class.__module__.rsplit(".", 1)[1] in PAGES
    }


def test_another_company_finds_nothing_at_any_address(client, company):
    work = full_order(company)
    other = contractor("Ferndale Pipe Works")
    signed_in(client, "rival", "Contractor", other)
    not_theirs = {"work_order_edit", "work_order_release", "work_order_call_off", "review"}
    not_theirs |= {"work_order_person", "work_order_person_left", "work_order_again"}
    for name, address in addresses(work).items():
        for method in (client.get, client.post):
            answer = method(address).status_code
            allowed = {403} if name in not_theirs else {404, 405}
            assert answer in allowed, (name, method, answer)
    listed = client.get(reverse("work_order_list")).content.decode()
    assert work.number not in listed
    tools_page = client.get(reverse("component_list")).content.decode()
    assert "No tool is in the catalog yet" in tools_page


def test_nobody_is_sent_to_sign_in_and_a_role_without_the_right_is_refused(client, company):
    work = full_order(company)
    lists = ("work_order_list", "review_queue", "work_order_new")
    found = {**addresses(work), **{name: reverse(name) for name in lists}}
    for address in found.values():
        assert client.get(address).status_code == 302
    client.force_login(user("nobody_yet"))
    for address in found.values():
        assert client.get(address).status_code == 403
    signed_in(client, "compliance", "Compliance staff")
    for name in ("work_order_string", "work_order_start", "work_order_pull", "work_order_edit"):
        assert client.get(found[name]).status_code == 403


def test_staff_see_the_whole_order_page(client, company):
    work = full_order(company)
    signed_in(client, "manager", "Program manager")
    page = client.get(reverse("work_order", args=[work.pk])).content.decode()
    for said in (
        work.number,
        "Quarry Lane Underground",
        "Which method",
        "Tool string, side view to scale",
        "not a measurement",
        "Pull of Apr 10, 2028",
        "counts once, on the day of the work, as a full replacement",
        "Safe start for Apr 10, 2028",
    ):
        assert said in page, said
    assert page.count("<svg") == 3


def test_a_contractor_does_not_see_an_order_before_it_is_released(client, company):
    work = order(company, released=False)
    signed_in(client, "crew", "Contractor", company)
    assert client.get(reverse("work_order", args=[work.pk])).status_code == 404


def test_a_manager_makes_changes_releases_and_calls_off_an_order(client, company):
    line = line_of("LEAD", "COPPER")
    signed_in(client, "manager", "Program manager")
    address = reverse("work_order_new") + f"?line={line.pk}"
    assert "lead" in client.get(address).content.decode()
    form = {
        "line": line.pk, "contractor": company.pk, "method": "SPLIT", "old_material": "LEAD",
        "old_nominal_in": "0.75", "old_grade": "AA", "new_pipe": "PE|1.0|CTS SDR 9",
        "length_ft": "35", "bends": "12, 45\n20 ft", "joints": "", "note": "",
    }  # fmt: skip
    page = client.post(address, form)
    assert "Line 2" in page.content.decode()
    assert not WorkOrder.objects.exists()
    client.post(address, form | {"bends": "12, 45"})
    work = WorkOrder.objects.get()
    assert work.bends == [{"station_ft": 12.0, "degrees": 45.0}]
    client.post(reverse("work_order_edit", args=[work.pk]), form | {"length_ft": "", "bends": ""})
    work.refresh_from_db()
    assert (work.length_ft, work.bends) == (None, [])
    client.post(reverse("work_order_release", args=[work.pk]))
    client.post(reverse("work_order_call_off", args=[work.pk]), {"reason": "burst, dug up"})
    work.refresh_from_db()
    assert work.state == "CALLED_OFF"
    page = client.get(reverse("work_order", args=[work.pk])).content.decode()
    assert "released to the contractor → called off" in page


def test_joints_are_written_and_shown_in_words(client, company):
    work = order(company, joints=[{"station_ft": 12.5, "kind": "CURB_STOP"}])
    signed_in(client, "manager", "Program manager")
    page = client.get(reverse("work_order", args=[work.pk])).content.decode()
    assert "curb stop at 12.5 ft" in page
    assert OrderForm.stands(work)["joints"] == "12.5, curb stop"


def test_the_office_sees_who_can_be_asked_a_crew_only_capacity_and_language(client, company):
    work = order(company)
    names = "work_order work_order_person work_order_appointment work_order_consent".split()
    at = {name: reverse(name, args=[work.pk]) for name in names}
    signed_in(client, "clerk", "Compliance staff")
    client.post(at["work_order_person"], {"capacity": "TENANT", "name": "Tomas Birk",
                "phone": "555-0142", "language": "vi"})  # fmt: skip
    client.post(at["work_order_consent"], {"answer": "GIVEN", "answered_on": "2028-04-02",
                "given_by": "Orla Marsh", "capacity": "OWNER",
                "paper": SimpleUploadedFile("signed.png", picture())})  # fmt: skip
    booked = {"purpose": "WORK", "with_whom": "TENANT", "starts_at": "2028-04-20T08:00",
              "ends_at": "2028-04-20T12:00", "note": "side door"}  # fmt: skip
    client.post(at["work_order_appointment"], booked)
    page = client.get(at["work_order"]).content.decode()
    assert all(words in page for words in ("Tomas Birk", "555-0142", "Orla Marsh", "side door"))
    paper = work.line.consents.get().document
    signed_in(client, "crew", "Contractor", company)
    page = client.get(at["work_order"]).content.decode()
    assert not any(words in page for words in ("Birk", "555-0142", "Orla"))
    assert "Tenant, speaks Vietnamese" in page and "side door" in page
    assert client.get(reverse("work_document", args=[paper.pk])).status_code == 404
    appointment = work.line.appointments.get()
    closing = reverse("work_order_appointment_close", args=[work.pk, appointment.pk])
    client.post(closing, {"state": "CANCELED", "outcome": "called by the tenant"})
    appointment.refresh_from_db()
    assert (appointment.state, appointment.closed_by) == ("CANCELED", "crew")


def test_release_shows_who_must_do_what(client):
    company = contractor("Otter Creek", ready=False)
    work = order(company, released=False)
    signed_in(client, "manager", "Program manager")
    page = client.get(reverse("work_order", args=[work.pk])).content.decode()
    assert "Otter Creek must send proof of its insurance" in page
    client.post(reverse("work_order_release", args=[work.pk]))
    work.refresh_from_db()
    assert work.state == "PLANNED"


def test_papers_crews_and_what_is_asked_are_recorded_with_the_paper_itself(client):
    company = contractor(ready=False)
    address = reverse("readiness", args=[company.pk])
    signed_in(client, "crew", "Contractor", company)
    client.post(address, {"kind": "INSURANCE", "expires_on": "2028-06-30",
                "paper": SimpleUploadedFile("policy.png", picture())})  # fmt: skip
    paper = company.certificates.get().document
    assert client.get(reverse("work_document", args=[paper.pk])).status_code == 200
    wrong = SimpleUploadedFile("policy.pdf", b"<html></html>")
    page = client.post(address, {"kind": "LICENSE", "expires_on": "2028-06-30", "paper": wrong})
    assert "not one of the kinds" in page.content.decode()
    assert company.certificates.count() == 1
    client.post(address, {"lot": "L-7", "pipe": "PE|1.0|CTS SDR 9", "contact_standard": "on",
                "lead_free_standard": "on", "lot_papers": "1"})  # fmt: skip
    client.post(address, {"name": "Crew 4", "foreman": "Rowan Fell", "crew": "1"})
    page = client.get(address).content.decode()
    assert "Crew 4, Rowan Fell" in page and "domestic content (federal money)" not in page
    assert client.post(address, {"required": "on", "domestic": "1"}).status_code == 403
    signed_in(client, "planner", "Program manager")
    client.post(address, {"required": "on", "domestic": "1"})
    assert "domestic content (federal money)" in client.get(address).content.decode()
    waits = order(company, released=False)
    page = client.get(reverse("work_order", args=[waits.pk])).content.decode()
    assert "must show the papers of lot L-7: domestic content" in page


def test_a_crew_goes_from_consent_to_the_handed_in_record(client, company):
    work = order(company, joints=[])
    tools(company)
    signed_in(client, "crew", "Contractor", company)

    def at(name):
        return reverse(name, args=[work.pk])

    client.post(at("work_order_attempt"), {"at": "2028-04-01T10:00", "method": "PHONE",
                "addressed_to": "OWNER", "outcome": "agreed"})  # fmt: skip
    assert ContactAttempt.objects.get().contractor == company
    paper = SimpleUploadedFile("consent.png", picture())
    client.post(at("work_order_consent"), {"answer": "GIVEN", "answered_on": "2028-04-02",
                "given_by": "The owner", "capacity": "OWNER", "paper": paper})  # fmt: skip
    assert Consent.objects.get().document.kind == "CONSENT"

    page = client.get(at("work_order_string"))
    form = page.context["form"]
    chosen = {name: field.initial or "" for name, field in form.fields.items()}
    client.post(
        at("work_order_string"),
        chosen | {"pulled_end": "THICK", "blade_facing": "FLAT_TO_OLD_PIPE"},
    )
    assert work.tool_strings.get().worst_level in ("", "NOTE")
    client.post(at("work_order_checklist"), {"CABLE_TAIL": "0.25", "BLADE_FACING": "yes"})
    assert AssemblyAnswer.objects.count() == 2

    refused = client.post(at("work_order_start"), {"on": "2028-04-10", "traffic": "no"})
    said = refused.content.decode()
    assert "Do not start yet" in said and "Call 811." in said
    assert "Record the start" in said and "not answered: " in said
    still = client.post(at("work_order_start"), START).content.decode()
    assert "No force estimate has been made" in still and "Call 811." not in still
    answers = {a["check_key"]: a.get("measured", "yes") for a in good_answers()}
    client.post(at("work_order_checklist"), answers)
    client.post(at("work_order_estimate"), {"plate_area_ft2": "4.5", "soil_psf": "2000",
                "resin": "PE4710", "temperature_f": "73", "minutes": "60"})  # fmt: skip
    assert client.post(at("work_order_start"), START).status_code == 302
    work.refresh_from_db()
    assert work.safety["started_on"] == "2028-04-10"

    bad = SimpleUploadedFile("log.csv", b"<html>no log</html>")
    page = client.post(at("work_order_pull"), {"log": bad, "pulled_on": "2028-04-10", "count": 1})
    assert "log.csv" in page.content.decode()
    log = SimpleUploadedFile("log.csv", make_clean_log().encode())
    client.post(at("work_order_pull"), {"log": log, "pulled_on": "2028-04-10", "count": 1})
    made = work.pulls.get()

    form = {"outcome": "REPLACED", "finished_on": "2028-04-10", "system_found": "LEAD",
            "customer_found": "LEAD", "system_replaced": "on", "customer_replaced": "on",
            "method_used": "SPLIT", "pull": made.pk, "idempotency_key": str(uuid4()),
            "static_psi": "60", "test_psi": "100", "test_minutes": "15",
            "photo_OLD_PIPE": SimpleUploadedFile("old.png", picture())}  # fmt: skip
    shown = client.post(at("work_order_completion"), form)
    said = shown.content.decode()
    assert "Not handed in yet" in said and "No photo: new at main." in said
    assert "No photo: old pipe." not in said and not CompletionRecord.objects.exists()
    (kept,) = shown.context["photos"]
    form |= {"photo_OLD_PIPE": "", "kept": kept.pk, "despite": "1"}
    client.post(at("work_order_completion"), form)
    record = CompletionRecord.objects.get()
    assert record.pull == made
    assert [p.kind for p in record.photos.all()] == ["PHOTO_OLD_PIPE"]
    assert record.quality["pressure_test"]["pressure_psi"] == 100
    work.refresh_from_db()
    assert work.state == "HANDED_IN"


START = {
    "on": "2028-04-10", "traffic": "yes", "main_depth_ft": "5", "main_protection": "trench box",
    "main_egress_ft": "10", "main_spoil_ft": "3", "main_inspected_on": "2028-04-10",
    "main_inspected_by": "Rowan Fell", "ticket_number": "T-9", "ticket_from": "2028-04-07",
    "ticket_to": "2028-04-20", "marks_visible": "on", "free_cable_ft": "10",
    "exclusion_zone_ft": "15", "gauge_calibrated_on": "2028-03-01", "barriers_at_both_pits": "on",
    "spotter_with_radio": "on", "emergency_stop_tried": "on", "relief_set": "on",
    "bore_proved": "on", "line_isolated": "on", "electrical_ground_checked": "on",
    "cutting_method": "wet shear", "hygiene_set_up": "on", "scrap_contained": "on",
}  # fmt: skip


def test_a_photo_that_is_no_photo_keeps_nothing(client, company):
    work = order(company)
    signed_in(client, "crew", "Contractor", company)
    form = {"outcome": "REPLACED", "finished_on": "2028-04-10", "system_replaced": "on",
            "method_used": "SPLIT", "idempotency_key": "k",
            "photo_OLD_PIPE": SimpleUploadedFile("old.jpg", b"<svg></svg>")}  # fmt: skip
    page = client.post(reverse("work_order_completion", args=[work.pk]), form).content.decode()
    assert "old.jpg is not one of the kinds" in page
    assert not CompletionRecord.objects.exists()


def test_a_returned_record_says_why_and_keeps_its_photos_for_the_next(client, company):
    work = order(company)
    first = handed_in(work)
    signed_in(client, "manager", "Program manager")
    address = reverse("review", args=[first.pk])
    assert "Say why the work is returned" in client.post(address, {"return": "1"}).content.decode()
    client.post(address, {"return": "1", "reasons": "Wrong house number."})
    signed_in(client, "crew", "Contractor", company)
    page = client.get(reverse("work_order_completion", args=[work.pk])).content.decode()
    assert "Wrong house number." in page
    form = {"outcome": "REPLACED", "finished_on": "2028-04-10", "system_replaced": "on",
            "method_used": "SPLIT", "despite": "1"}  # fmt: skip
    client.post(reverse("work_order_completion", args=[work.pk]), form)
    second = work.completions.get(revision=2)
    assert second.photos.count() == first.photos.count() == len(photos(company))


def test_the_queue_accepts_many_but_neither_ones_own_nor_those_with_stops(client, company):
    good = [handed_in(order(company)) for _ in range(2)]
    held = handed_in(order(company), quality={}, photos=[])
    own = handed_in(order(company), by="manager")
    signed_in(client, "manager", "Program manager")
    page = client.get(reverse("review_queue")).content.decode()
    assert page.count('name="record"') == 3
    assert "14 stops" in page or "stops</span>" in page
    ids = [r.pk for r in (*good, held, own)]
    said = client.post(reverse("review_queue"), {"record": ids}, follow=True).content.decode()
    assert "2 accepted, 2 left." in said
    assert Replacement.objects.count() == 2
    page = client.post(reverse("review", args=[own.pk]), {"accept": "1"}).content.decode()
    assert "Nobody reviews their own record" in page


def test_the_queue_returns_many_for_one_reason_but_not_ones_own(client, company):
    two = [handed_in(order(company)) for _ in range(2)]
    own = handed_in(order(company), by="manager")
    signed_in(client, "manager", "Program manager")
    ids = {"record": [r.pk for r in (*two, own)], "return": "1"}
    said = client.post(reverse("review_queue"), ids, follow=True).content.decode()
    assert "Say why the work is returned" in said
    ids["reasons"] = "The photos are dark."
    said = client.post(reverse("review_queue"), ids, follow=True).content.decode()
    assert "2 returned, 1 left." in said and "Nobody reviews their own" in said
    for record in two:
        record.work_order.refresh_from_db()
        assert record.work_order.state == "RETURNED"


def test_the_review_shows_order_and_record_beside_each_other_with_photos(client, company):
    work = full_order(company)
    signed_in(client, "clerk", "Compliance staff")
    record = work.completions.get()
    page = client.get(reverse("review", args=[record.pk])).content.decode()
    for words in ("Ordered or asked", "Disinfection and flushing", "pressure 100 psi",
                  "Drawing of the string", "Plot of the pull", "Assembly checklist"):  # fmt: skip
        assert words in page, words
    assert page.count("<img ") >= 5


def test_a_document_is_a_download_that_the_browser_does_not_guess_at(client, company):
    document = pull(order(company)).log
    signed_in(client, "crew", "Contractor", company)
    answer = client.get(reverse("work_document", args=[document.pk]))
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert b"".join(answer.streaming_content).startswith(b"Time (s)")


def test_a_tool_is_added_inspected_and_retired_by_its_owner_only(client, company):
    signed_in(client, "manager", "Program manager")
    assert client.get(reverse("component_new")).status_code == 403
    signed_in(client, "crew", "Contractor", company)
    form = {"kind": "JAW_SET", "mark": "J-1", "rated_lbf": "8000", "fits_cable_in": "0.375",
            "jaw_faces": "3"}  # fmt: skip
    client.post(reverse("component_new"), form)
    tool = Component.objects.get()
    assert tool.dimensions == {"fits_cable_in": [0.375], "jaw_faces": 3.0}
    address = reverse("component", args=[tool.pk])
    assert "never inspected: do not use" in client.get(address).content.decode()
    client.post(address, {"inspected_on": "2028-04-01", "inspected_by": "Rowan Fell",
                "passed": "on", "wear_O_RINGS": "GOOD"})  # fmt: skip
    assert tool.inspections.get().findings == {"wear": {"O_RINGS": "GOOD"}}
    client.post(address, {"reason": "worn"})
    tool.refresh_from_db()
    assert tool.retired_on


def test_filters_and_pages_of_the_list(client, company):
    first = order(company)
    second = order(company, released=False)
    signed_in(client, "manager", "Program manager")
    page = client.get(reverse("work_order_list"), {"state": "PLANNED"}).content.decode()
    assert second.number in page and first.number not in page
    older = client.get(reverse("work_order_list"), {"before": second.pk}).content.decode()
    assert first.number in older and second.number not in older
    for strange in ({"contractor": "'; --"}, {"neighborhood": "1,000,001"}, {"before": "-"}):
        assert client.get(reverse("work_order_list"), strange).status_code == 400
    nowhere = {"state": "x", "neighborhood": "9" * 9}
    assert client.get(reverse("work_order_list"), nowhere).status_code == 200


def test_the_day_of_the_pages_is_the_programs_own(client, company):
    assert DAY.isoformat() == "2028-04-10"
    signed_in(client, "crew", "Contractor", company)
    page = client.get(reverse("work_order_start", args=[order(company).pk])).content.decode()
    assert 'value="2028-04-14"' in page
