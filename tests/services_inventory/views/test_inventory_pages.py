"""The inventory's pages: who may open them, what they show, what wrong input brings back."""

import csv
import io
import re
from datetime import date
from hashlib import sha256

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from services_inventory.models import CategoryChange, Conflict, Document, Evidence, Premise
from services_inventory.operations.evidence import evidence_record
from services_inventory.operations.validation import validation_draw
from tests.services_inventory.factories import MORNING, bare_line, line_of, neighborhood
from tests.services_inventory.people import CREW, MANAGER, STAFF, browser_of

pytestmark = pytest.mark.django_db
HOSTILE = '12 <script>alert("x")</script> & \'St'


@pytest.fixture(autouse=True)
def _a_day_of_its_own(settings):
    cache.clear()
    settings.TODAY = "tests.services_inventory.people.today"
    settings.NOW = "tests.services_inventory.people.now"


@pytest.fixture
def line():
    """Return a line whose system side two records contradict."""
    found = line_of(
        "COPPER", "COPPER", basis="RECORD_TAP_CARD", in_neighborhood=neighborhood("Ropewalk")
    )
    evidence_record(
        line=found, portion="SYSTEM", material="LEAD", basis="RECORD_DRAWING", by="clerk",
        recorded_at=MORNING,
    )  # fmt: skip
    return found


@pytest.fixture
def pages(line):
    """Return the address of every page: {name: address}."""
    line_of("COPPER", "COPPER", basis="RECORD_TAP_CARD")
    made = validation_draw(by="cora", drawn_on=date(2028, 4, 1), seed="dice")
    card = b"%PDF-1.4 a tap card"
    file = SimpleUploadedFile("card.pdf", card)
    document = Document.objects.create(
        file=file, name="card.pdf", content_type="application/pdf", bytes=len(card),
        sha256=sha256(card).hexdigest(), uploaded_by="clerk", uploaded_at=MORNING,
    )  # fmt: skip
    numbered = {
        "line": line.pk,
        "evidence_withdraw": line.evidence.first().pk,
        "conflict": Conflict.objects.get().pk,
        "document": document.pk,
        "validation_draw": made.pk,
        "visit_list": made.pk,
        "validation_report": made.pk,
        "validation_pick": made.picks.first().pk,
    }
    plain = ("line_list", "line_csv", "line_geopackage", "line_unplaced", "conflict_list",
             "counts", "counts_csv", "validation_list")  # fmt: skip
    return {
        **{name: reverse(name) for name in plain},
        **{name: reverse(name, args=[pk]) for name, pk in numbered.items()},
    }


VALIDATION = {
    "validation_list", "validation_draw", "visit_list", "validation_report", "validation_pick",
}  # fmt: skip


def test_nobody_is_sent_to_sign_in(pages):
    for name, address in pages.items():
        answer = browser_of().get(address)
        assert answer.status_code == 302, name
        assert answer.url.startswith(reverse("login")), name


def test_a_contractor_sees_none_of_it(pages):
    browser = browser_of(CREW)
    assert {
        name: browser.get(address).status_code for name, address in pages.items()
    } == dict.fromkeys(pages, 403)


def test_compliance_staff_see_all_of_it(pages):
    browser = browser_of(STAFF)
    for name, address in pages.items():
        answer = browser.get(address)
        assert answer.status_code == 200, name
        if "text/html" in answer["Content-Type"]:
            page = answer.content.decode()
            assert page.count("<h1") == 1, name
            assert "<title>" in page, name


def test_a_manager_sees_all_but_the_validation(pages):
    browser = browser_of(MANAGER)
    codes = {name: browser.get(address).status_code for name, address in pages.items()}
    assert codes == {name: 403 if name in VALIDATION else 200 for name in pages}


def test_what_is_not_there_answers_404():
    browser = browser_of(STAFF)
    for name in ("line", "evidence_withdraw", "conflict", "document", "validation_draw",
                 "visit_list", "validation_report", "validation_pick"):  # fmt: skip
        assert browser.get(reverse(name, args=[987654])).status_code == 404, name


@pytest.mark.parametrize("role", [CREW, MANAGER])
def test_only_compliance_staff_decide_and_validate(role, pages):
    browser = browser_of(role)
    for name in ("conflict", "validation_list", "validation_pick"):
        assert browser.post(pages[name], {}).status_code == 403, name
    assert Conflict.objects.get().resolved_at is None


def test_a_post_without_its_token_is_refused(line):
    from django.test import Client

    browser = browser_of(STAFF)
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = browser.cookies
    assert strict.post(reverse("evidence_record", args=[line.pk]), {}).status_code == 403


def test_hostile_words_are_shown_as_words():
    place = neighborhood("<b>Row</b>")
    hostile = line_of("LEAD", "LEAD", address=HOSTILE, in_neighborhood=place, location_id="<i>1")
    evidence_record(
        line=hostile, portion="SYSTEM", material="LEAD", basis="RECORD_DRAWING", by="<u>me",
        recorded_at=MORNING, note="<img src=x onerror=alert(1)>", source="<s>cards",
    )  # fmt: skip
    browser = browser_of(STAFF)
    addresses = [
        reverse("line_list"),
        reverse("line_list") + "?address=%3Cscript%3Ealert(2)%3C/script%3E&location=%22%3E%3Cb%3E",
        reverse("line", args=[hostile.pk]),
        reverse("counts"),
        reverse("evidence_withdraw", args=[hostile.evidence.first().pk]),
    ]
    for address in addresses:
        page = browser.get(address).content.decode()
        for raw in ("<script>alert", "<b>Row", "<i>1", "<img src=x", "<u>me", "<s>cards", '"><b>'):
            assert raw not in page, (address, raw)


def test_the_list_says_what_it_shows(line):
    line_of("LEAD", "COPPER", address="7 Quay Ct")
    page = browser_of(STAFF).get(reverse("line_list"), {"category": "LEAD", "sort": "address"})
    said = " ".join(page.content.decode().split())
    assert "<strong>2</strong> lines that are lead, in order of address" in said
    assert page.context["page"].rows[0].premise.address in ("12 Mill St", "7 Quay Ct")


def test_a_wrong_filter_shows_nothing_and_says_why(line):
    page = browser_of(STAFF).get(reverse("line_list"), {"laid_from": "soon"})
    assert "soon is no year; write it like 1948." in page.content.decode()
    assert page.context["page"].rows == []


@pytest.mark.django_db
def test_an_empty_inventory_says_where_to_begin():
    browser = browser_of(STAFF)
    page = browser.get(reverse("line_list")).content.decode()
    assert "No line is in the inventory yet." in page and reverse("batch_list") in page
    page = browser.get(reverse("line_list"), {"category": "LEAD"}).content.decode()
    assert "No line is kept by these filters." in page


def test_a_lost_place_leads_to_the_first_page(line):
    page = browser_of(STAFF).get(reverse("line_list"), {"after": "made-by-hand"})
    assert [row.pk for row in page.context["page"].rows] == [line.pk]
    assert "not known any more" in page.content.decode()


def test_the_download_holds_the_filtered_list(line):
    other = line_of("COPPER", "PLASTIC", in_neighborhood=None)
    answer = browser_of(STAFF).get(reverse("line_csv"), {"neighborhood": "none"})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    assert [row["location id"] for row in csv.DictReader(io.StringIO(text))] == [other.location_id]
    assert answer["Content-Disposition"].startswith("attachment")


def record(line, role=STAFF, **values):
    """Send the evidence form."""
    said = {"portion": "CUSTOMER", "material": "copper", "basis": "RECORD_TAP_CARD", **values}
    return browser_of(role).post(reverse("evidence_record", args=[line.pk]), said)


def test_evidence_in_the_trades_words_is_recorded_and_the_category_follows():
    line = line_of("COPPER", "UNKNOWN", basis="RECORD_TAP_CARD")
    answer = record(line, material="3/4 Cu", note="Card 12", installed_year="1948")
    assert answer.status_code == 302
    row = Evidence.objects.latest("id")
    assert (row.material, row.installed_year, row.recorded_by) == ("COPPER", 1948, "compliance")
    line.refresh_from_db()
    assert line.category == "NON_LEAD"


def test_a_photo_is_kept_with_the_evidence(line):
    photo = SimpleUploadedFile("pipe.jpg", b"\xff\xd8\xff\xe0 a photo")
    assert record(line, document=photo).status_code == 302
    document = Evidence.objects.latest("id").document
    assert (document.name, document.content_type) == ("pipe.jpg", "image/jpeg")
    sent = browser_of(STAFF).get(reverse("document", args=[document.pk]))
    assert b"".join(sent.streaming_content) == b"\xff\xd8\xff\xe0 a photo"
    assert sent["Content-Disposition"].startswith("attachment")


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"material": "PB"}, "is not clear"),
        ({"material": ""}, "required"),
        ({"observed_on": "2030-02-30"}, "no day of the calendar"),
        ({"observed_on": "2199-01-01"}, "after it was recorded"),
        ({"installed_year": "20255"}, "year of installation is 20255"),
        ({"points_seen": "2"}, "Points were seen, but the basis is tap card"),
        ({"basis": "REPLACEMENT"}, "not one of the available choices"),
        ({"document": SimpleUploadedFile("x.html", b"<html>")}, "not one of the kinds"),
    ],
)
def test_wrong_evidence_comes_back_with_a_sentence_and_every_word(values, sentence, line):
    before = Evidence.objects.count()
    answer = record(line, **{"note": "Seen by the meter reader", **values})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "Seen by the meter reader" in page
    assert Evidence.objects.count() == before
    assert Document.objects.count() == 0


def test_evidence_is_taken_back_with_a_reason_only(line):
    row = line.evidence.get(basis="RECORD_DRAWING")
    address, browser = reverse("evidence_withdraw", args=[row.pk]), browser_of(STAFF)
    refused = browser.post(address, {"reason": " ", "how": "FROM_TODAY"})
    assert refused.status_code == 422
    assert "Say why" in refused.content.decode()
    undecided = browser.post(address, {"reason": "Other street."})
    assert (undecided.status_code, Evidence.objects.filter(withdraws=row).count()) == (422, 0)
    assert "was never true" in undecided.content.decode()
    said = {"reason": "Other street.", "how": "FROM_TODAY"}
    assert browser.post(address, said).status_code == 302
    line.refresh_from_db()
    assert line.category == "NON_LEAD"
    again = browser.post(address, {"reason": "Twice.", "how": "FROM_TODAY"})
    assert (again.status_code, Evidence.objects.filter(withdraws=row).count()) == (422, 1)
    page = browser.get(reverse("line", args=[line.pk])).content.decode()
    assert "counts no longer" in page and "It was never true" in page
    assert browser.post(address, {"reason": "No. 14.", "how": "NEVER_TRUE"}).status_code == 302
    again = browser.post(address, {"reason": "Twice.", "how": "NEVER_TRUE"})
    assert (again.status_code, "already" in again.content.decode()) == (422, True)
    assert "Other street." in browser.get(reverse("line", args=[line.pk])).content.decode()


def test_what_was_taken_back_by_mistake_is_recorded_again(line):
    row = line.evidence.get(basis="RECORD_DRAWING")
    browser = browser_of(STAFF)
    said = {"reason": "Other street.", "how": "NEVER_TRUE"}
    browser.post(reverse("evidence_withdraw", args=[row.pk]), said)
    address = reverse("evidence_again", args=[row.pk])
    assert address in browser.get(reverse("line", args=[line.pk])).content.decode()
    assert browser.get(address).status_code == 200
    assert browser.post(address, {"reason": ""}).status_code == 422
    assert browser.post(address, {"reason": "It was this street."}).status_code == 302
    line.refresh_from_db()
    assert line.category == "LEAD"
    assert browser.post(address, {"reason": "Twice."}).status_code == 422


def test_evidence_true_since_a_day_is_recorded_on_the_lines_page(line):
    answer = record(line, counts_from="2028-03-10", material="lead")
    assert answer.status_code == 302
    assert Evidence.objects.latest("id").counts_from == date(2028, 3, 10)
    refused = record(line, counts_from="1950-05-01")
    assert "The record begins on Mar 1, 2028" in refused.content.decode()
    page = browser_of(STAFF).get(reverse("line", args=[line.pk])).content.decode()
    assert "true since Mar 10, 2028" in page


def test_a_conflict_is_decided_with_a_reason(line):
    conflict, browser = Conflict.objects.get(), browser_of(STAFF)
    address = reverse("conflict", args=[conflict.pk])
    page = browser.get(address)
    assert [side["material"] for side in page.context["sides"]] == ["COPPER", "LEAD"]
    assert browser.post(address, {"material": "COPPER", "reason": ""}).status_code == 422
    assert browser.post(address, {"material": "IRON", "reason": "x"}).status_code == 422
    line.refresh_from_db()
    assert line.category == "LEAD", "the protective reading stands until the decision"
    done = browser.post(address, {"material": "COPPER", "reason": "The drawing was a proposal."})
    assert done.status_code == 302
    line.refresh_from_db()
    conflict.refresh_from_db()
    assert (line.category, conflict.resolved_by) == ("NON_LEAD", "compliance")


def test_the_queue_lists_what_is_open(line):
    page = browser_of(MANAGER).get(reverse("conflict_list"))
    assert [row.line_id for row in page.context["page"].rows] == [line.pk]


def test_a_line_that_does_not_count_says_so():
    page = browser_of(STAFF).get(reverse("line", args=[bare_line().pk]))
    assert "This line does not count." in page.content.decode()


def test_a_past_day_on_the_lines_page(line):
    page = browser_of(STAFF).get(reverse("line", args=[line.pk]), {"on": "2028-02-01"})
    assert "was not in the inventory" in page.content.decode()


def test_an_unreadable_day_gets_a_sentence(line):
    page = browser_of(STAFF).get(reverse("line", args=[line.pk]), {"on": "yesterday"})
    assert "no day of the calendar" in page.content.decode()


def test_the_counts_of_a_day_to_come_are_refused():
    answer = browser_of(STAFF).get(reverse("counts"), {"on": "2199-01-01"})
    assert answer.status_code == 422
    assert "has not come yet" in answer.content.decode()


def test_the_counts_over_time_are_told_drawn_and_listed_or_said_to_lack(line):
    page = browser_of(STAFF).get(reverse("counts")).content.decode()
    assert "line was lead, galvanized requiring replacement or unknown on Mar 1, 2028" in page
    assert page.count('href="?on=2028-') == len(re.findall(r'class="nowrap" href="\?on=', page)) > 2
    Evidence.objects.all().delete()
    CategoryChange.objects.all().delete()
    cache.clear()
    assert "nothing to compare yet" in browser_of(STAFF).get(reverse("counts")).content.decode()


def test_the_counts_as_csv_equal_the_page(line):
    browser, asked = browser_of(STAFF), {"on": "2028-03-01"}
    rows = browser.get(reverse("counts"), asked).context["rows"]
    text = browser.get(reverse("counts_csv"), asked).content.decode()
    sent = list(csv.DictReader(io.StringIO(text)))
    assert [(row["neighborhood"], row["LEAD"], row["total"]) for row in sent] == [
        (row["name"], str(row["LEAD"]), str(row["total"])) for row in rows
    ]


def test_lines_in_no_neighborhood_are_listed_not_lost(line):
    nowhere = line_of("LEAD", "LEAD", address="1 Far Rd")
    page = browser_of(STAFF).get(reverse("line_unplaced"))
    assert [row.pk for row in page.context["page"].rows] == [nowhere.pk]


def test_lines_in_no_neighborhood_are_told_apart_by_reason(line):
    without = line_of("LEAD", "LEAD", address="1 Far Rd")
    outside = line_of("COPPER", "COPPER", address="2 Far Rd")
    Premise.objects.filter(pk=without.premise_id).update(latitude=None, longitude=None)
    Premise.objects.filter(pk=outside.premise_id).update(latitude=10.5, longitude=20.5)
    staff, seen = browser_of(STAFF), {}
    for asked in ("why=position", "why=boundary", "why=boundary&open=1", "why=else", "open=1"):
        page = staff.get(f"{reverse('line_unplaced')}?{asked}")
        seen[asked] = {row.pk for row in page.context["page"].rows}
    both = {without.pk, outside.pk}
    assert list(seen.values()) == [{without.pk}, {outside.pk}, set(), both, {without.pk}]
    counts = {row["why"]: (row["lines"], row["open"]) for row in page.context["reasons"]}
    assert counts == {"position": (1, 1), "boundary": (1, 0)}


def visit_said(**values):
    """Return the fields of a visit's form with one point."""
    said = {"access": "YES", "observed_on": "2028-03-02", "basis": "EXCAVATION", "note": ""}
    said |= {"form-TOTAL_FORMS": "3", "form-INITIAL_FORMS": "0"}
    said |= {"form-0-portion": "CUSTOMER", "form-0-place": "meter", "form-0-material": "lead"}
    return {**said, **values}


def test_a_visit_is_recorded_and_listed(pages):
    answer = browser_of(STAFF).post(pages["validation_pick"], visit_said())
    assert answer.status_code == 302
    assert "found lead" in browser_of(STAFF).get(pages["validation_draw"]).content.decode()
    assert "1 of 1" in browser_of(STAFF).get(pages["validation_report"]).content.decode()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"form-0-place": ""}, "Write the place of this point too."),
        ({"form-0-material": "PB"}, "is not clear"),
        ({"form-0-portion": "", "form-0-place": "", "form-0-material": ""}, "at least one point"),
        ({"access": "NO"}, "what was tried"),
        ({"observed_on": "2199-01-01"}, "after it was recorded"),
    ],
)
def test_a_wrong_visit_comes_back_with_a_sentence(values, sentence, pages):
    answer = browser_of(STAFF).post(pages["validation_pick"], visit_said(**values))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_other_apps_add_panels_to_a_line(line, settings):
    settings.LINE_PANELS = [
        "tests.services_inventory.views.test_inventory_pages.panel_of",
        "tests.services_inventory.views.test_inventory_pages.no_panel",
    ]
    page = browser_of(STAFF).get(reverse("line", args=[line.pk])).content.decode()
    assert page.count("Replacement here") == 1


def panel_of(request, line):
    """Return a panel as another app would."""
    template = "services_inventory/_bar.html"
    return {"title": "Replacement here", "template": template, "context": {"row": {"total": 0}}}


def no_panel(request, line):
    """Return nothing to show."""


def test_a_portion_that_is_clicked_opens_its_form_for_those_who_record(line):
    address = reverse("line", args=[line.pk])
    page = browser_of(MANAGER).get(address, {"portion": "CUSTOMER"}).content.decode()
    assert re.search(r'<details[^>]*id="record" open>', page)
    assert re.search(r'<option value="CUSTOMER" selected>', page)
    for asked in ("", "SYSTEM'", "NOWHERE"):
        plain = browser_of(MANAGER).get(address, {"portion": asked}).content.decode()
        assert re.search(r'<details[^>]*id="record">', plain)
    assert 'href="?portion=SYSTEM#record"' in plain


def test_a_past_day_is_drawn_as_it_stood(line):
    address = reverse("line", args=[line.pk])
    day = line.category_since.isoformat()
    page = browser_of(MANAGER).get(address, {"on": day}).content.decode()
    assert page.count("From the main to the building.") == 2
    before = browser_of(MANAGER).get(address, {"on": "1999-01-01"}).content.decode()
    assert "The line was not in the inventory." in before
    assert before.count("From the main to the building.") == 1
