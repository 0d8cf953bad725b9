"""An amendment's ledger: what was filed, what is known now, by what; on a constructed town."""

import csv
import json
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from program.models import PoolFreeze, PoolLine
from program.operations.pools import pool_freeze
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_amend, submission_files, submission_freeze
from program.queries.amending import amend_preview
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.queries.counts import category_counts_on
from tests.kept import kept
from tests.services_inventory.factories import bare_line

from .factories import NOW, TODAY, found, line, lines, moment, standing_town

pytestmark = pytest.mark.django_db
YEAR_END = date(2030, 12, 31)
LATER = moment(date(2031, 3, 1))
AMENDED = moment(date(2031, 4, 1))


@pytest.fixture
@kept
def filed():
    """A town whose year was filed, and one line of it that is mis-keyed as copper."""
    standing_town()
    slip = line("COPPER", "COPPER", at=moment(date(2028, 2, 1)))
    return slip, submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)


def amend(submission, at=AMENDED):
    return submission_amend(
        submission=submission, what_changed="Card 99 was keyed wrongly.", by="compliance", at=at,
        today=at.date(),
    )  # fmt: skip


def correct(slip):
    """Take the copper back as never true, and record the lead that the card says."""
    (copper,) = slip.evidence.filter(portion="CUSTOMER", material="COPPER")
    evidence_withdraw(
        evidence=copper, by="pat", recorded_at=LATER, reason="keyed wrongly", never_true=True
    )
    evidence_record(
        line=slip, portion="CUSTOMER", material="LEAD", basis="RECORD_TAP_CARD", source="card 99",
        by="pat", recorded_at=LATER, counts_from=date(2028, 2, 1),
    )  # fmt: skip


def table(kind) -> list[dict]:
    with open(submission_files(2030)[kind], encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_mis_keyed_category_is_corrected_at_the_years_end_and_the_ledger_says_by_what(filed):
    slip, first = filed
    before = first.facts["totals"]
    correct(slip)
    preview = amend_preview(first, AMENDED)
    assert [(code, by) for code, _, _, _, by in preview.totals] == [("A1", 1), ("A4", -1)]
    second = amend(first)
    now = second.facts["totals"]
    assert (now["A1"], now["A4"]) == (before["A1"] + 1, before["A4"] - 1)
    (row,) = table("corrections")
    assert (row["Location id"], row["Category, filed"], row["Category, now"]) == (
        slip.location_id, "NON_LEAD", "LEAD",
    )  # fmt: skip
    assert (row["Since"], row["Recorded on"]) == ("2028-02-01", "2031-03-01")
    assert row["Totals moved"] == "A1 +1; A4 -1"
    assert "taken back as never true" in row["Evidence"] and "keyed wrongly" in row["Evidence"]
    assert "true since 2028-02-01" in row["Evidence"] and "card 99" in row["Evidence"]
    moved = {row["Code"]: row["Moved by"] for row in table("filed_and_now") if row["Moved by"]}
    assert (moved["A1"], moved["A4"], moved["B6a"]) == ("1 more", "1 fewer", "1 more")


def test_the_page_says_how_many_of_the_lines_with_news_it_compared(filed, monkeypatch):
    slip, first = filed
    other = bare_line("98 Mill St")
    correct(slip)
    evidence_record(
        line=other, portion="SYSTEM", material="LEAD", basis="RECORD_TAP_CARD", by="pat",
        recorded_at=LATER, counts_from=date(2028, 2, 1),
    )  # fmt: skip
    whole = amend_preview(first, AMENDED)
    monkeypatch.setattr("program.queries.amending.MOST", 1)
    part = amend_preview(first, AMENDED)
    assert (whole.compared, whole.touched, whole.cut) == (2, 2, False)
    assert (part.compared, part.touched, part.cut, part.number) == (1, 2, True, 1)
    assert [row for row in part.totals if row[0] < "A6"] == [
        row for row in whole.totals if row[0] < "A6"
    ]
    monkeypatch.setattr("program.queries.amending.MOST", 0)
    assert not amend_preview(first, AMENDED).is_nothing


def test_every_revision_is_built_again_to_the_byte(filed):
    slip, first = filed
    correct(slip)
    second = amend(first)
    found(slip, "SYSTEM", "LEAD", date(2031, 5, 1), moment(date(2031, 5, 2)))
    for submission in (first, second):
        result = submission_verify(submission=submission, at=moment(date(2031, 5, 3)))
        assert result.agrees, result.differences
        assert any("same to the byte" in said for said in result.agreements)


def test_the_ledger_stands_in_the_workbook_and_the_recount_holds_it_to_the_totals(filed):
    slip, first = filed
    correct(slip)
    amend(first)
    files = submission_files(2030)
    book = openpyxl.load_workbook(files["xlsx"], read_only=True)
    assert {"Corrections", "Totals, filed and now", "Findings set aside"} <= set(book.sheetnames)
    assert "A1 as filed, and the ledger's corrections" in Path(files["audit"]).read_text()
    document = json.loads(Path(files["json"]).read_text())
    assert [row["location_id"] for row in document["corrections"]] == [slip.location_id]


def test_an_original_has_no_ledger(filed):
    files = submission_files(2030)
    assert "corrections" not in files
    names = openpyxl.load_workbook(files["xlsx"], read_only=True).sheetnames
    assert "Corrections" not in names and "Findings set aside" in names


def test_nothing_to_change_is_said_with_the_reason(filed):
    slip, first = filed
    assert (amend_preview(first, AMENDED).is_nothing, amend_preview(first, AMENDED).evidence) == (
        True, 0,
    )  # fmt: skip
    (copper,) = slip.evidence.filter(portion="CUSTOMER", material="COPPER")
    evidence_withdraw(evidence=copper, by="pat", recorded_at=LATER, reason="keyed wrongly")
    preview = amend_preview(first, AMENDED)
    assert preview.is_nothing
    assert (preview.evidence, preview.later) == (1, 1)
    evidence_withdraw(
        evidence=copper, by="pat", recorded_at=LATER, reason="never so", never_true=True
    )
    assert not amend_preview(first, AMENDED).is_nothing


def test_a_line_that_was_missing_and_one_that_was_never_there(filed):
    slip, first = filed
    missed = bare_line("99 Mill St")
    evidence_record(
        line=missed, portion="SYSTEM", material="LEAD", basis="RECORD_TAP_CARD", by="pat",
        recorded_at=LATER, counts_from=date(2028, 2, 1),
    )  # fmt: skip
    amend(first)
    row = next(r for r in table("corrections") if r["Location id"] == missed.location_id)
    assert (row["Category, filed"], row["Category, now"]) == ("", "LEAD")
    assert "A5 +1" in row["Totals moved"]


def test_a_correction_of_days_before_moves_the_next_pool_not_the_frozen_one():
    _, copper = lines([("LEAD", "LEAD", ""), ("COPPER", "COPPER", "")])
    first = pool_freeze(program_year=1, by="m", at=moment(date(2028, 1, 5)))
    evidence_record(
        line=copper, portion="CUSTOMER", material="LEAD", basis="RECORD_TAP_CARD", by="pat",
        recorded_at=moment(date(2028, 6, 1)), counts_from=category_day(copper),
    )  # fmt: skip
    second = pool_freeze(program_year=2, by="m", at=NOW)
    assert (first.size, second.size, second.added) == (1, 2, 1)
    assert PoolLine.objects.get(freeze=second, why="FOUND").line_id == copper.pk
    assert PoolFreeze.objects.get(pk=first.pk).size == 1


def category_day(of):
    """The first day of a line's record."""
    return of.category_changes.earliest("effective_on").effective_on


def test_the_resting_total_is_counted_from_the_sheet(filed):
    _, first = filed
    rows = table("csv")
    resting = [row for row in rows if row["Rests on connectors"] == "YES"]
    assert first.facts["totals"]["A12"] == len(resting)
    assert category_counts_on(YEAR_END)["total"] == len(rows)
