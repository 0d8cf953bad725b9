"""The replacement plan document on the constructed town: words, freezing, publishing, stating."""

import hashlib
from datetime import date
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from program.domain.deferral import deferral, years_and_months
from program.models import OwnValue, PlanDocument, PlanStatement, PlanText
from program.operations.plan_documents import (
    plan_document_check,
    plan_document_freeze,
    plan_document_print,
    plan_document_publish,
    plan_statement_make,
    plan_text_restore,
    plan_text_write,
)
from program.operations.submissions import submission_amend, submission_draft, submission_freeze
from program.plan_document.elements import elements
from program.queries.plan_document import plan_document_facts
from program.queries.plan_documents import published_document
from services_inventory.kept_files import KeptFile, local_path
from services_inventory.refused import Refused
from tests.kept import kept

from .factories import NOW, TODAY, line, moment, town, utility

pytestmark = pytest.mark.django_db
NO_PLAN = "An adopted plan of work areas"


def _path_of(document: PlanDocument) -> Path:
    return local_path(KeptFile(document.path))


@pytest.fixture(autouse=True)
@kept
def _town():
    utility(contact="Line program", phone="000-000-0100", website="town.example")
    town()


def write(element="ACCESS", text="Ordinance 12-3 lets the utility in.", **more) -> PlanText:
    return plan_text_write(
        element=element, text=text, **({"taken_from": "", "by": "counsel", "at": NOW} | more)
    )


def freeze(**more) -> PlanDocument:
    said = {"what_changed": "First.", "by": "compliance", "at": NOW, "is_draft_meant": True}
    return plan_document_freeze(**(said | {"as_of": TODAY} | more))


def section(element: str, **changes) -> dict:
    facts = plan_document_facts(TODAY, NOW)
    return next(one for one in facts["sections"] if one["id"] == element)


@pytest.fixture
def whole(monkeypatch):
    """Let nothing be missing: every text written, the plan's part of it set aside."""
    for one in elements():
        write(one.id, f"Words on {one.heading}.")
    kept = plan_document_facts

    def without_gaps(as_of, known_at):
        facts = kept(as_of, known_at)
        return facts | {"missing": [one for one in facts["missing"] if not one["blocks"]]}

    monkeypatch.setattr("program.operations.plan_documents.plan_document_facts", without_gaps)


def test_the_record_supplies_its_figures_and_what_it_lacks_is_named():
    facts = plan_document_facts(TODAY, NOW)
    said = " ".join(facts["inventory"]["sentences"])
    # counted by hand in the town: 6 lead, 2 GRR, 5 unknown, 12 non-lead of 25
    assert "25 service lines" in said and "6 lead, 2 galvanized" in said and "5 of unknown" in said
    lacking = {(one["part"][:2], one["what"][: len(NO_PLAN)]) for one in facts["missing"]}
    assert ("1.", NO_PLAN) in lacking
    assert {part for part, what in lacking if what.startswith("The utility's own words")} == {
        f"{number}." for number in range(1, 9)
    }
    assert not section("LEAD_LINED")["applies"] and not section("DEFERRED")["applies"]


def test_values_used_carry_paragraph_source_and_mark():
    rows = {row[0]: row for row in plan_document_facts(TODAY, NOW)["values"]}
    assert rows["CONSENT_MIN_ATTEMPTS"][1:4] == ["4", "attempts", "40 CFR 141.84(d)(3)"]
    assert rows["CONSENT_MIN_ATTEMPTS"][5] == "memory"
    assert rows["REPLACEMENT_PLAN_DUE"][5] == "seen"


def test_lead_lined_pipe_makes_its_element_apply():
    line("LEAD_LINED_GALVANIZED", "COPPER")
    found = section("LEAD_LINED")
    assert found["applies"] and found["waits_for"] == 1
    assert "1 line has evidence" in found["sentences"][0]


def test_a_deferred_deadline_states_number_length_and_rate():
    OwnValue.objects.create(
        value_id="REPLACEMENT_DEADLINE", value="2040-12-31", jurisdiction="STATE",
        effective_from=date(2027, 11, 1), citation="letter 7", author="State", reason="deferral",
        recorded_at=NOW,
    )  # fmt: skip
    found = section("DEFERRED")
    shown = {row[0]: row[1] for row in found["tables"][0]["rows"]}
    expected = deferral(8, 40)  # 6 lead and 2 GRR of 40 connections
    years, months = years_and_months(expected.years)
    assert found["applies"] and found["waits_for"] == 1
    assert shown["Length at that number"] == f"{years} years and {months} months"
    assert expected.annual_number == Fraction(39, 1000) * 40
    assert shown["Deadline in force"].endswith("Dec 31, 2040")


def test_words_are_kept_by_version_and_can_come_back():
    write(text="One.")
    write(text="Two.", at=moment(date(2031, 1, 16)), based_on=1)
    write(text="", based_on=2)
    assert section("ACCESS")["text"] is None
    plan_text_restore(version=PlanText.objects.get(version=1), by="manager", at=NOW)
    text = section("ACCESS")["text"]
    assert (text["text"], text["version"], text["by"]) == ("One.", 4, "manager")
    assert PlanText.objects.count() == 4


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"element": "WEATHER"}, "no element called 'WEATHER'"),
        ({"text": "Ordinance \u4e2d"}, "U\\+4E2D"),
        ({"taken_from": "\U0001f600"}, "U\\+1F600"),
        ({"text": "x" * 60_001}, "60,001 characters"),
        ({"element": "FUNDING", "text": " \n"}, "Write the utility's words first"),
        ({}, "Nothing differs from version 1"),
        ({"text": "Other.", "based_on": 0}, "Somebody saved other words"),
    ],
)
def test_words_that_cannot_be_kept_are_refused_with_a_sentence(more, sentence):
    write()
    with pytest.raises(Refused, match=sentence):
        write(**more)
    assert PlanText.objects.count() == 1


def test_a_draft_has_to_be_meant_and_is_marked_on_every_page():
    with pytest.raises(Refused, match="Missing: "):
        freeze(is_draft_meant=False)
    assert not PlanDocument.objects.exists()
    document = freeze()
    content = _path_of(document).read_bytes()
    pages = PdfReader(BytesIO(content)).pages
    assert document.is_draft and document.pages == len(pages)
    assert all("DRAFT" in page.extract_text() for page in pages)
    with pytest.raises(Refused, match="not published"):
        plan_document_publish(document=document, by="compliance", at=NOW)


def test_a_frozen_document_never_changes_and_is_chained():
    first = freeze()
    before = _path_of(first).read_bytes()
    write()
    line("LEAD", "LEAD")
    second = freeze(at=moment(date(2031, 2, 1)))
    assert second.previous_sha256 == first.sha256 == hashlib.sha256(before).hexdigest()
    assert _path_of(first).read_bytes() == before
    assert not _path_of(first).stat().st_mode & 0o222
    assert plan_document_check(first) == plan_document_check(second) == ""
    assert "Ordinance 12-3" in str(second.facts) and "Ordinance 12-3" not in str(first.facts)


def test_an_altered_or_missing_file_is_found():
    document = freeze()
    path = _path_of(document)
    path.chmod(0o644)
    path.write_bytes(path.read_bytes()[:-1] + b" ")
    assert "is not the file that was frozen" in plan_document_check(document)
    path.unlink()
    assert "is missing" in plan_document_check(document)
    other = freeze()
    other.facts["as_of"] = "2031-01-16"
    assert "gives another file" in plan_document_check(other)


def test_a_print_keeps_nothing():
    assert plan_document_print(as_of=TODAY, at=NOW).startswith(b"%PDF")
    assert not PlanDocument.objects.exists()


def test_the_public_reads_the_latest_one_published(whole):
    first, second = freeze(is_draft_meant=False), freeze(is_draft_meant=False)
    assert published_document() is None
    plan_document_publish(document=first, by="compliance", at=NOW)
    assert published_document() == first
    plan_document_publish(document=second, by="compliance", at=NOW)
    assert published_document() == second
    with pytest.raises(Refused, match="public already"):
        plan_document_publish(document=second, by="compliance", at=NOW)


def state(document, **more) -> PlanStatement:
    said = {
        "year": 2030, "says": "UPDATED", "name": "A. Person", "title": "Director",
        "statement": "As asked.", "by": "compliance", "at": NOW,
    }  # fmt: skip
    return plan_statement_make(document=document, **(said | more))


def test_the_submission_names_the_document_and_what_was_certified(whole):
    assert "PLAN" in {q.key for q in submission_draft(year=2030, today=TODAY, at=NOW).questions}
    document = freeze(is_draft_meant=False, as_of=date(2030, 12, 1))
    first = submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    assert "no statement for 2030 is made" in first.facts["plan_statement"]
    state(document)
    questions = submission_draft(year=2030, today=TODAY, at=NOW).questions
    assert "PLAN" not in {question.key for question in questions}
    again = submission_amend(
        submission=first, what_changed="The plan.", by="compliance", at=NOW, today=TODAY
    )
    assert "The plan is updated" in again.facts["plan_statement"]
    assert document.sha256 in again.facts["totals"]["B15"]


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"name": " "}, "needs a name"),
        ({"says": "UNCHANGED"}, "was frozen after 2030, so it is an update"),
    ],
)
def test_a_statement_that_does_not_hold_is_refused(whole, more, sentence):
    with pytest.raises(Refused, match=sentence):
        state(freeze(is_draft_meant=False), **more)
    assert not PlanStatement.objects.exists()


def test_nothing_is_certified_of_a_draft():
    with pytest.raises(Refused, match="draft"):
        state(freeze())


def test_unchanged_may_be_said_of_an_earlier_document(whole):
    later = moment(date(2032, 1, 10))
    found = state(freeze(is_draft_meant=False), year=2031, says="UNCHANGED", at=later)
    assert found.get_says_display() == "Nothing in the plan has changed"
