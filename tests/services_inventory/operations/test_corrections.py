"""Corrections reach the past: never true, true since; what was known then stays. Constructed."""

from datetime import date, timedelta

import pytest

from services_inventory.models import CategoryChange, Evidence, ServiceLine
from services_inventory.operations.evidence import (
    EvidenceRefused,
    evidence_record,
    evidence_record_again,
    evidence_record_many,
    evidence_withdraw,
)
from services_inventory.operations.restate import standings_compare
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.checks import checks
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.past import recount
from services_inventory.refused import Refused
from tests.services_inventory.factories import MORNING, bare_line, line_of
from tests.services_inventory.operations.takes import APRIL, MILL, OAK, open_file, run, take_in

pytestmark = pytest.mark.django_db
FIRST = MORNING.date()
YEAR_END = date(2028, 12, 31)
FILED = MORNING.replace(year=2029, month=1, day=20)
LATER = MORNING.replace(year=2029, month=2, day=3)


def counted(day, known=None) -> str:
    """Return the only category that counts on a day, or nothing."""
    counts = category_counts_on(day, known)
    assert counts.pop("total") <= 1
    return next((name for name, number in counts.items() if number), "")


def card(line, portion="CUSTOMER", material="LEAD", at=MORNING, **said):
    return evidence_record(
        line=line, portion=portion, material=material, basis="RECORD_TAP_CARD", by="clerk",
        recorded_at=at, **said,
    )  # fmt: skip


def back(evidence, at=LATER, **how):
    return evidence_withdraw(
        evidence=evidence, by="clerk", recorded_at=at, reason="card of 14 Oak St", **how
    )


def holds_together():
    assert [sentence for check in checks() for sentence in check()] == []
    for day in (FIRST, YEAR_END, FILED.date(), LATER.date()):
        assert recount(day)["differences"] == 0, day
        assert recount(day, FILED)["differences"] == 0, day
    assert standings_compare(recorded_at=LATER)["differences"] == 0


@pytest.fixture
def slip():
    """A line of copper, to which the card of another house was keyed in."""
    return card(line_of("COPPER", "COPPER"))


def test_a_line_that_only_such_evidence_put_into_the_past_is_there_from_the_day_it_came():
    line_of("COPPER", "COPPER", basis="RECORD_TAP_CARD")  # the record begins
    line = line_of("COPPER", "COPPER", at=LATER)
    since = FIRST + timedelta(days=9)
    told = card(line, at=LATER + timedelta(days=1), counts_from=since)
    assert category_counts_on(YEAR_END)["LEAD"] == 1
    back(told, LATER + timedelta(days=2), never_true=True)
    known_then = LATER + timedelta(days=1)
    for day, known, lines, lead in (
        (YEAR_END, None, 1, 0), (since, None, 1, 0), (YEAR_END, known_then, 2, 1),
        (LATER.date(), None, 2, 0), (LATER.date() + timedelta(days=9), None, 2, 0),
    ):  # fmt: skip
        counts = category_counts_on(day, known)
        assert (counts["total"], counts["LEAD"]) == (lines, lead), day
    holds_together()


def test_what_was_never_true_counts_for_no_day_and_what_was_known_then_stays(slip):
    assert counted(YEAR_END) == "LEAD"
    back(slip, never_true=True)
    assert counted(YEAR_END) == counted(FIRST) == counted(LATER.date()) == "NON_LEAD"
    assert counted(YEAR_END, FILED) == "LEAD"
    line = ServiceLine.objects.get()
    assert (line.category, line.category_since) == ("NON_LEAD", FIRST)
    holds_together()


def test_what_is_only_taken_back_counted_until_then(slip):
    back(slip)
    assert counted(YEAR_END) == "LEAD"
    assert counted(LATER.date()) == "NON_LEAD"
    holds_together()


def test_what_was_taken_back_can_be_said_to_be_never_true_afterwards_but_once(slip):
    back(slip)
    back(slip, at=LATER + timedelta(days=1), never_true=True)
    assert counted(YEAR_END) == "NON_LEAD"
    with pytest.raises(EvidenceRefused, match="already, as never true"):
        back(slip, at=LATER + timedelta(days=2), never_true=True)
    with pytest.raises(EvidenceRefused, match="already"):
        back(slip, at=LATER + timedelta(days=2))
    holds_together()


def test_the_opposite_of_a_slip_recorded_again_counts_from_its_first_day(slip):
    back(slip, never_true=True)
    again = {"by": "clerk", "recorded_at": LATER + timedelta(days=9), "reason": "it was ours"}
    evidence_record_again(evidence=slip, **again)
    assert counted(YEAR_END) == counted(FIRST) == "LEAD"
    assert counted(YEAR_END, LATER) == "NON_LEAD"
    assert counted(YEAR_END, FILED) == "LEAD"
    with pytest.raises(EvidenceRefused, match="again already"):
        evidence_record_again(evidence=slip, **again)
    with pytest.raises(EvidenceRefused, match="it stands"):
        evidence_record_again(evidence=Evidence.objects.latest("id"), **again)
    holds_together()


def test_what_is_true_since_a_day_counts_from_that_day():
    line = line_of("COPPER", "COPPER")
    card(line, at=LATER, counts_from=date(2028, 10, 1))
    assert counted(date(2028, 9, 30)) == "NON_LEAD"
    assert counted(date(2028, 10, 1)) == counted(YEAR_END) == "LEAD"
    assert counted(YEAR_END, FILED) == "NON_LEAD"
    line.refresh_from_db()
    assert line.category_since == date(2028, 10, 1)
    holds_together()


def test_a_line_that_was_missing_counts_since_when_it_is_true():
    line_of("COPPER", "COPPER")
    missed = bare_line()
    card(missed, at=LATER, counts_from=FIRST)
    assert category_counts_on(YEAR_END)["LEAD"] == 1
    assert category_counts_on(YEAR_END, FILED) == {
        "LEAD": 0, "GRR": 0, "NON_LEAD": 1, "UNKNOWN": 0, "total": 1,
    }  # fmt: skip
    holds_together()


@pytest.mark.parametrize(
    ("since", "words"),
    [
        (date(2029, 2, 4), "after it was recorded"),
        (date(1950, 5, 1), "The record begins on Mar 1, 2028"),
        (date(202, 10, 1), "write a year from 1800"),
    ],
)
def test_a_day_since_when_that_cannot_be_is_refused_and_nothing_changes(since, words):
    line = line_of("COPPER", "COPPER")
    before = Evidence.objects.count(), CategoryChange.objects.count()
    with pytest.raises(EvidenceRefused, match=words):
        card(line, at=LATER, counts_from=since)
    with pytest.raises(EvidenceRefused, match="before the pipe was laid"):
        card(line, at=LATER, counts_from=date(2028, 6, 1), installed_on=date(2028, 7, 1))
    assert (Evidence.objects.count(), CategoryChange.objects.count()) == before


def test_rows_true_since_a_day_are_recorded_together_and_reach_back_each():
    lines = [line_of("COPPER", "COPPER") for _ in range(3)]
    rows = [
        {"line_id": line.pk, "portion": "CUSTOMER", "material": "LEAD", "basis": "RECORD_TAP_CARD",
         "counts_from": since}
        for line, since in zip(lines, (FIRST, date(2028, 7, 1), None), strict=True)
    ]  # fmt: skip
    evidence_record_many(rows=rows, by="clerk", recorded_at=LATER)
    days = (FIRST, YEAR_END, LATER.date())
    assert [category_counts_on(day)["LEAD"] for day in days] == [1, 2, 3]
    holds_together()


def test_late_work_and_a_finding_that_was_never_true_tell_one_story(slip):
    line = slip.line
    evidence_record(
        line=line, portion="CUSTOMER", material="PLASTIC", basis="REPLACEMENT", by="reviewer",
        observed_on=date(2028, 11, 5), recorded_at=FILED,
    )  # fmt: skip
    back(slip, never_true=True)
    assert counted(date(2028, 11, 4)) == "NON_LEAD"
    assert counted(date(2028, 11, 4), FILED) == "LEAD"
    holds_together()


def test_a_file_of_another_system_was_never_true(tmp_path):
    take_in(tmp_path, [MILL])
    second = open_file(tmp_path, [MILL, OAK], at=APRIL + timedelta(days=30))
    run(second)
    own = ServiceLine.objects.get(location_id=OAK[0])
    at = APRIL + timedelta(days=60)
    day = (APRIL + timedelta(days=40)).date()
    assert category_counts_on(day)["total"] == 2
    intake_undo(batch=second, by="manager", at=at, never_true=True)
    assert category_counts_on(day)["total"] == 1
    assert category_counts_on(day, at - timedelta(days=1))["total"] == 2
    own.refresh_from_db()
    assert own.category is None
    assert recount(day)["differences"] == 0
    with pytest.raises(Refused, match="already, as never true"):
        intake_undo(batch=second, by="manager", at=at, never_true=True)


def test_a_withdrawn_file_can_be_said_to_be_never_true_afterwards(tmp_path):
    batch = open_file(tmp_path, [MILL, OAK])
    run(batch)
    day, at = (APRIL + timedelta(days=3)).date(), APRIL + timedelta(days=9)
    intake_undo(batch=batch, by="manager", at=at)
    assert category_counts_on(day)["total"] == 2
    intake_undo(batch=batch, by="manager", at=at + timedelta(days=1), never_true=True)
    assert category_counts_on(day)["total"] == 0
    assert category_counts_on(day, at)["total"] == 2
    assert recount(day)["differences"] == 0
