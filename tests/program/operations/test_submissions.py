"""The life of an annual submission, on a constructed town counted by hand."""

import csv
import json
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from program.models import Notice, PoolFreeze, Submission
from program.operations import submissions
from program.operations.deliveries import notice_deliver
from program.operations.notices import notice_add
from program.operations.submission_verify import submission_verify
from program.operations.submissions import (
    SubmissionError,
    submission_amend,
    submission_certify,
    submission_draft,
    submission_files,
    submission_folder,
    submission_freeze,
)
from program.operations.ticks import value_tick
from program.queries.certification import questions_asked, unread_values
from program.submissions.layouts import STANDARD
from program.submissions.tables import lists_now
from replacements.models import Contractor
from services_inventory.models import ServiceLine
from services_inventory.queries.counts import category_counts_on

from .factories import (
    NOW,
    TODAY,
    all_yes,
    filed_town,
    found,
    line,
    moment,
    replaced,
    standing_town,
    utility,
)

pytestmark = pytest.mark.django_db
LATER = moment(date(2031, 3, 1))


@pytest.fixture
def lines():
    return standing_town()


@pytest.fixture
def filed():
    return filed_town()


def freeze(year=2030, at=NOW, today=TODAY):
    return submission_freeze(year=year, by="compliance", at=at, today=today)


def rows_of(kind="csv", year=2030) -> list[dict]:
    with open(submission_files(year)[kind], encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def summary(year=2030) -> dict:
    book = openpyxl.load_workbook(submission_files(year)["xlsx"], read_only=True)
    rows = book["Summary"].iter_rows(values_only=True)
    return {row[0]: row[2] for row in rows if row[0]}


@pytest.mark.usefixtures("filed")
def test_an_update_before_the_program_tells_its_year_in_words_and_is_built_again_as_it_told_it():
    made = freeze(2027)
    book = openpyxl.load_workbook(submission_files(2027)["xlsx"], read_only=True)
    said = {row[1]: row[2] for row in book["Summary"].iter_rows(values_only=True)}
    assert said["Program year"] == "Before the first program year"
    assert submission_verify(submission=made, at=LATER).agrees
    del made.facts["year_told"]  # as frozen before there were words
    made.save()
    found = submission_verify(submission=made, at=LATER)
    assert [one for one in found.differences if ".xlsx" in one] == found.differences != []


@pytest.mark.usefixtures("filed")
def test_the_workbook_says_what_the_town_was_built_with():
    said = summary()
    assert {code: said[code] for code in ("A1", "A2", "A3", "A4", "A5")} == {
        # 10 lead, less 5 replaced in full, plus 1 found; of 4 GRR 2 are left
        "A1": 6, "A2": 2, "A3": 5, "A4": 12, "A5": 25,
    }  # fmt: skip
    assert said["A6"] == 10  # the connectors were left where they were
    assert said["A7"] == 10
    assert (said["A8"], said["A9"], said["A10"], said["A11"]) == (2, 1, 0, 0)
    assert (said["A8_TO_DATE"], said["A9_TO_DATE"], said["A10_TO_DATE"]) == (5, 2, 1)
    assert (said["B1"], said["B2"], said["B3"], said["B9"]) == (10, 4, 6, 20)
    assert said["B10"] == pytest.approx(3 / 20)
    assert said["B11"] == pytest.approx((2 / 20 + 2 / 19 + 3 / 20) / 3)


def test_totals_are_those_of_the_database_on_the_last_day_of_the_year(lines):
    found(lines["unknown"][1], "CUSTOMER", "LEAD", date(2031, 1, 5), moment(date(2031, 1, 6)))
    submission = freeze()
    on_the_day = category_counts_on(date(2030, 12, 31))
    said = submission.facts["totals"]
    assert [said["A1"], said["A2"], said["A4"], said["A3"], said["A5"]] == [*on_the_day.values()]
    assert ServiceLine.objects.filter(category="LEAD").count() == on_the_day["LEAD"] + 1
    changed = next(r for r in rows_of() if r["Location id"] == lines["unknown"][1].location_id)
    assert (changed["Category"], changed["Customer side"]) == ("UNKNOWN", "UNKNOWN")


def test_work_done_before_the_day_and_accepted_after_it_counts_if_known_at_the_freeze(lines):
    replaced(lines["lead"][6], date(2030, 12, 20), accepted=moment(date(2031, 1, 10)))
    replaced(lines["lead"][7], date(2030, 12, 20), accepted=moment(date(2031, 1, 20)))
    freeze()
    assert summary()["A8"] == 3
    by_place = {row["Location id"]: row for row in rows_of()}
    assert by_place[lines["lead"][6].location_id]["Category"] == "NON_LEAD"
    assert by_place[lines["lead"][6].location_id]["System side"] == "PLASTIC"
    assert by_place[lines["lead"][7].location_id]["Category"] == "LEAD"


def test_each_line_says_how_its_material_is_known(filed):
    lines, _ = filed
    row = next(r for r in rows_of() if r["Location id"] == lines["grr"][2].location_id)
    assert row["System side"] == "COPPER"
    assert row["System side points"] == "2"
    assert row["Customer side seen on"] == "2027-08-28"
    assert "card 7" in row["Document"]
    assert row["In replacement pool"] == "YES"


def test_a_second_freeze_takes_the_frozen_one(filed):
    lines, first = filed
    replaced(lines["lead"][6], date(2030, 12, 20), accepted=moment(date(2031, 1, 20)))
    assert freeze(at=LATER, today=LATER.date()).pk == first.pk
    assert summary()["A8"] == 2


def test_frozen_files_cannot_be_written_to_and_are_chained(lines):
    one = freeze(2029)
    two = freeze(2030)
    assert two.previous_digest == one.digest != ""
    for path in submission_folder(two).iterdir():
        assert path.stat().st_mode & 0o222 == 0
    manifest = json.loads(Path(submission_files(2030)["manifest"]).read_text())
    assert manifest["previous"] == one.digest


@pytest.mark.parametrize(
    ("year", "words"),
    [
        (2031, "runs to Dec 31, 2031, and today is Jan 15, 2031"),
        (1999, "holds no line as of Dec 31, 1999"),
        (20255, "No program year ends in 20255"),
    ],
)
def test_a_year_that_cannot_be_submitted_is_refused_in_words(lines, year, words):
    with pytest.raises(SubmissionError, match=words):
        freeze(year)
    assert not Submission.objects.exists()


def test_the_last_day_itself_is_not_over(lines):
    with pytest.raises(SubmissionError):
        freeze(today=date(2030, 12, 31))
    freeze(today=date(2031, 1, 1))


def test_verified_at_once_every_file_is_the_same_to_the_byte(lines):
    found_out = submission_verify(submission=freeze(), at=LATER)
    assert found_out.agrees, found_out.differences
    assert "same to the byte" in found_out.agreements[-1]


def test_verified_years_later_what_was_recorded_since_changes_nothing(filed):
    lines, submission = filed
    found(lines["unknown"][1], "CUSTOMER", "LEAD", date(2031, 2, 5), moment(date(2031, 2, 6)))
    replaced(lines["lead"][6], date(2030, 12, 20), accepted=moment(date(2031, 2, 20)))
    line("LEAD", "LEAD", at=LATER)
    found_out = submission_verify(submission=submission, at=LATER)
    assert found_out.agrees, found_out.differences
    assert "same to the byte" in found_out.agreements[-1]


def test_a_later_version_that_adds_columns_and_codes_builds_the_old_ones_again(lines, monkeypatch):
    """What is frozen here lacks what this version has: a list, columns, a word, another heading."""
    earlier = lists_now()
    earlier["sheets"] = [
        [key, name, [column for column in columns if column[0] not in ("document", "accepted_on")]]
        for key, name, columns in earlier["sheets"]
        if key != "set_aside"
    ]
    earlier["sheets"][-1][2][1][1] = "Street address"  # the line list's second heading
    earlier["codes"]["material"] = earlier["codes"]["material"][:-1]
    monkeypatch.setattr(submissions, "lists_now", lambda: earlier)
    monkeypatch.setattr(submissions, "_counted", lambda facts: {})
    filed = submission_freeze(
        year=2030, by="c", at=NOW, today=TODAY, layout=STANDARD.as_of_freeze(earlier)
    )
    [head, *_] = Path(submission_files(2030)["csv"]).read_text(encoding="utf-8").split("\n")
    assert "Street address" in head and "Document" not in head
    assert '"document"' not in Path(submission_files(2030)["lines_json"]).read_text()
    found_out = submission_verify(submission=filed, at=LATER)
    assert found_out.agrees, found_out.differences
    assert "same to the byte" in found_out.agreements[-1]


def test_a_version_that_lost_a_column_says_so(filed):
    _, submission = filed
    submission.facts["lists"]["sheets"][0][2][0][0] = "gone"
    found_out = submission_verify(submission=submission, at=LATER)
    assert found_out.differences == [
        "It cannot be built again: This version of the program has no 'gone' any more."
    ]


def test_what_moved_since_is_said_apart_from_what_was_altered(filed):
    """A letter that was told of later, and work recorded late: neither is an alteration."""
    lines, submission = filed
    replaced(lines["lead"][6], date(2030, 12, 20), accepted=moment(date(2031, 2, 20)))
    announced = notice_add(
        line=lines["lead"][7], event="PLANNED_PARTIAL", on=date(2030, 6, 20), by="c",
        as_of=date(2030, 4, 1),
    )  # fmt: skip
    found_out = submission_verify(submission=submission, at=LATER)
    assert found_out.agrees and not found_out.differences
    assert "A1 Lead service lines: filed 6, known now 5." in found_out.moved
    [letters] = [said for said in found_out.moved if said.startswith("Letters of the year: 0")]
    assert "1 in the record now" in letters
    announced.delete()
    found_out = submission_verify(submission=submission, at=LATER)
    assert not any("Letters" in said for said in found_out.moved)


def test_a_changed_byte_of_a_filed_file_is_found(filed):
    _, submission = filed
    path = Path(submission_files(2030)["csv"])
    path.chmod(0o644)
    content = path.read_bytes()
    path.write_bytes(content.replace(b"NON_LEAD", b"LEAD,,,,", 1))
    found_out = submission_verify(submission=submission, at=LATER)
    assert not found_out.agrees
    assert found_out.differences == [f"{path.name} is not the file that was frozen."]
    assert "same to the byte" in found_out.agreements[-1]  # what was frozen, that is


def test_a_record_changed_behind_the_programs_back_is_found_cell_by_cell(filed):
    lines, submission = filed
    changed = lines["lead"][9]
    changed.evidence.filter(portion="SYSTEM").update(points_seen=1)
    found_out = submission_verify(submission=submission, at=LATER)
    assert not found_out.agrees
    assert found_out.differences == [
        f"{changed.location_id} (line list), system_points_seen: filed 2, in the record 1."
    ]


def test_an_address_corrected_since_is_a_remark_and_no_difference(filed):
    lines, submission = filed
    premise = lines["lead"][9].premise
    premise.address = "9a Mill St"
    premise.save()
    found_out = submission_verify(submission=submission, at=LATER)
    assert found_out.agrees, found_out.differences
    assert "address in 1 rows" in found_out.moved[0]


def test_a_list_changed_behind_the_programs_back_is_found_beside_a_corrected_address(filed):
    lines, submission = filed
    lines["lead"][9].premise.__class__.objects.update(address="9a Mill St")
    Contractor.objects.update(name="Another Crew")
    found_out = submission_verify(submission=submission, at=LATER)
    assert not found_out.agrees
    assert "(replacements), contractor: filed 'Invented Crew A'" in found_out.differences[0]
    assert "address in " in found_out.moved[0]


def test_a_broken_chain_and_a_missing_file_are_named(filed):
    _, first = filed
    submission_amend(submission=first, what_changed="x", by="c", at=LATER, today=TODAY)
    second = Submission.objects.get(revision=2)
    assert "It is chained to the submission frozen before it." in (
        submission_verify(submission=second, at=LATER).agreements
    )
    Submission.objects.filter(revision=1).update(digest="f" * 64)
    broken = submission_verify(submission=second, at=LATER).differences
    assert any("not chained to the submission frozen before" in said for said in broken)
    first.refresh_from_db()
    assert "The digest on record is not that of the manifest." in (
        submission_verify(submission=first, at=LATER).differences
    )
    for path in submission_folder(second).glob("*.jsonl"):
        path.unlink()
    assert any(
        "is missing" in said for said in submission_verify(submission=second, at=LATER).differences
    )


def certify(submission, **said):
    given = {
        "name": "A. Certifier",
        "title": "Compliance lead",
        "statement": "True to the best of my knowledge.",
        "by": "compliance",
        "at": NOW,
    }
    return submission_certify(submission=submission, **(given | said))


def test_certifying_asks_at_most_eight_questions_and_keeps_what_was_answered(filed):
    _, submission = filed
    unread = unread_values(submission)
    assert "REPLACEMENT_DEADLINE" in unread
    assert "REQUIRED_RATE" not in unread  # read in the fact sheet
    asked = questions_asked(submission)
    assert 4 <= len(asked) <= 8
    assert asked[0].evidence[0].startswith("6 lead, 2 galvanized requiring replacement, 5 unknown")
    with pytest.raises(SubmissionError, match="values that nobody has checked"):
        certify(submission, answered=tuple(q.key for q in asked if q.key != "VALUES"))
    value_tick(
        value_id=unread[0], confirms=True, citation="40 CFR 141.84", text="As the value says.",
        read_where="2030 edition", by="c", at=NOW,
    )  # fmt: skip
    certify(submission, answered=all_yes(submission))
    submission.refresh_from_db()
    assert submission.state == "CERTIFIED"
    assert set(submission.facts["accepted"]) == set(unread[1:])
    assert [answer[0] for answer in submission.facts["answers"]] == [q.question for q in asked]
    with pytest.raises(SubmissionError, match="not frozen"):
        certify(submission, answered=all_yes(submission))


def test_values_accepted_once_are_asked_about_again_only_when_they_change(filed):
    _, first = filed
    certify(first, answered=all_yes(first))
    at = moment(TODAY, 17)
    second = submission_amend(
        submission=first, what_changed="A letter.", by="c", at=at, today=TODAY
    )
    assert "VALUES" not in all_yes(second)
    for row in second.facts["values_used"]:
        if row[0] == "REPLACEMENT_DEADLINE":
            row[1] = "2038-12-31"
    second.save()
    values = next(one for one in questions_asked(second) if one.key == "VALUES")
    assert len(values.more) == 1 and "2038-12-31" in values.more[0]


def test_a_tampered_submission_cannot_be_certified(filed):
    _, submission = filed
    path = Path(submission_files(2030)["json"])
    path.chmod(0o644)
    path.write_text("{}")
    with pytest.raises(SubmissionError, match="not the file that was frozen"):
        certify(submission, answered=all_yes(submission))


def test_an_amendment_says_what_changed_and_the_old_files_stay(filed):
    lines, old = filed
    certify(old, answered=all_yes(old))
    before = {path.name: path.read_bytes() for path in submission_folder(old).iterdir()}
    replaced(lines["lead"][6], date(2030, 12, 20), accepted=moment(date(2031, 2, 20)))
    with pytest.raises(SubmissionError, match="Say what changed"):
        submission_amend(submission=old, what_changed=" ", by="c", at=LATER, today=LATER.date())
    new = submission_amend(
        submission=old,
        what_changed="A replacement was accepted late.",
        by="c",
        at=LATER,
        today=LATER.date(),
    )
    assert (new.revision, new.previous_digest) == (2, old.digest)
    assert summary()["A8"] == 3
    assert {p.name: p.read_bytes() for p in submission_folder(old).iterdir()} == before
    old.refresh_from_db()
    assert old.state == "CERTIFIED"  # in force until the amendment is certified
    certify(new, answered=all_yes(new))
    old.refresh_from_db()
    assert old.state == "REPLACED"


def test_the_draft_lists_what_is_open(lines):
    found(lines["lead"][8], "SYSTEM", "COPPER", date(2030, 3, 1), moment(date(2030, 3, 2)))
    draft = submission_draft(year=2030, today=TODAY, at=NOW)
    keys = {question.key for question in draft.questions}
    assert {"VALUES", "POOLS", "OVERDUE"} <= keys
    assert draft.due_on == date(2031, 1, 30)
    assert not PoolFreeze.objects.exists()


def test_an_inventory_begun_later_has_no_pool_and_says_so():
    utility()
    line("LEAD", "LEAD", at=moment(date(2030, 5, 5)))
    submission = freeze()
    assert submission.facts["totals"]["A1"] == 1
    assert "B9" not in submission.facts["totals"]
    assert any(q["key"] == "POOLS" for q in submission.open_questions)


def test_the_day_of_a_record_is_the_utilitys_own_and_not_that_of_greenwich(lines):
    # 22:00 on 31 December in New York is 1 January in Greenwich
    evening = moment(date(2031, 1, 1), hour=3)
    found(lines["unknown"][1], "CUSTOMER", "COPPER", date(2030, 12, 30), evening)
    freeze()
    row = next(r for r in rows_of() if r["Location id"] == lines["unknown"][1].location_id)
    assert (row["Category"], row["Customer side"]) == ("NON_LEAD", "COPPER")
    assert row["Category since"] == "2030-12-31"


def test_a_partial_replacement_says_its_occasion_and_when_the_rest_was_offered():
    utility()
    partial = line("LEAD", "LEAD", "LEAD")
    announced = notice_add(
        line=partial, event="PLANNED_PARTIAL", on=date(2030, 6, 20), by="c",
        as_of=date(2030, 4, 1),
    )  # fmt: skip
    sent = date(2030, 4, 10)
    notice_deliver(notice=announced, on=sent, means="POST", by="c", as_of=sent)
    replaced(partial, date(2030, 6, 20), sides=("SYSTEM",))
    freeze()
    document = json.loads(Path(submission_files(2030)["json"]).read_text(encoding="utf-8"))
    [row] = document["partials"]
    assert row["occasion"] == "Planned infrastructure work"
    assert (row["offered_on"], row["portion_left"]) == ("2030-04-10", "customer side: lead")
    Notice.objects.update(values={}, delivered_on=None)
    assert submission_verify(submission=Submission.objects.get(), at=LATER).agrees
