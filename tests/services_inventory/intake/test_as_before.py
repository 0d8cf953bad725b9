"""Rows that an earlier file had word for word are not read again: nothing differs for that.

Each file is told twice: as it is, and with every row read. Constructed.
"""

from datetime import timedelta

import pytest

from services_inventory.intake import as_before
from services_inventory.intake.as_before import AsBefore
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.reading import UnreadableFile
from services_inventory.models import HeldRow, MatchQuestion, OwnWord, ServiceLine
from services_inventory.operations.buildings import building_record
from services_inventory.operations.evidence import evidence_withdraw
from services_inventory.operations.matches import match_decide, matches_take_back
from services_inventory.operations.own_words import word_withdraw, words_answer
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.own_words import words_asked
from tests.services_inventory.operations.takes import APRIL, HEADER, counted, open_file, run

pytestmark = pytest.mark.django_db
MORE = (*HEADER, "line use", "category")
MAY = APRIL + timedelta(days=30)
LATEST = APRIL + timedelta(days=60)
LEAD, SIDE = 4, 5


def row(number: int, *, at: dict | None = None) -> tuple:
    """One row of the list; `at` says what stands in which column instead."""
    cells = [f"L{number}", f"{number} Mill St", f"{41.5 + number / 1000:.4f}", "-100.3", "copper",
             "galvanized", "1950", "tap card", "", ""]  # fmt: skip
    for place, cell in (at or {}).items():
        cells[place] = cell
    return tuple(cells)


FILE = [row(number) for number in range(1, 31)]


def taken(folder, rows=FILE, at=APRIL, name="list.csv", **more):
    batch = open_file(folder, rows, header=MORE, at=at, name=name, **more)
    run(batch)
    return batch


def told(folder, rows, **more) -> tuple:
    """Return all that a check of these rows tells."""
    batch = open_file(folder, rows, header=MORE, at=LATEST, name="check.csv", **more)
    counts = run(batch, "CHECK")
    held = HeldRow.objects.filter(batch=batch).order_by("row_number")
    names = ("moves", "said", "notes", "held_by", "words", "left_values")
    return (
        counts,
        list(held.values_list("row_number", "reason", "cells")),
        {name: batch.result[name] for name in names},
    )


@pytest.fixture
def read(monkeypatch) -> list[int]:
    """Collect the numbers of the rows that are read."""
    seen: list[int] = []
    check_many = RowChecker.check_many

    def noted(self, rows):
        rows = list(rows)
        seen.extend(number for number, _ in rows)
        return check_many(self, rows)

    monkeypatch.setattr(RowChecker, "check_many", noted)
    return seen


def same_the_long_way(folder, rows, **more) -> dict:
    """Hold what is told of rows against what reading each of them tells; return the counts."""
    found = told(folder, rows, **more)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(AsBefore, "others", lambda self, piece: piece)
        assert told(folder, rows, **more) == found
    return found[0]


def test_the_same_file_is_not_read_again_and_one_that_differs_only_where_it_does(tmp_path, read):
    taken(tmp_path)
    read.clear()
    assert told(tmp_path, FILE)[0] == counted(unchanged=30)
    assert read == []
    later = [*FILE[:9], row(10, at={LEAD: "lead"}), *FILE[11:], row(31)]
    assert told(tmp_path, later)[0] == counted(new=1, changed=1, unchanged=28)
    assert read == [11, 31]
    assert same_the_long_way(tmp_path, later) == counted(new=1, changed=1, unchanged=28)


def test_a_file_in_another_order_and_encoding_is_told_by_its_rows(tmp_path, read):
    taken(tmp_path)
    read.clear()
    assert told(tmp_path, FILE[::-1])[0] == counted(unchanged=30)
    assert read == []


def test_rows_that_were_held_or_told_of_are_read_each_time(tmp_path, read):
    bad = [*FILE, row(40, at={LEAD: "no such pipe"}), row(41, at={8: "no such use"})]
    taken(tmp_path, bad)
    read.clear()
    assert same_the_long_way(tmp_path, bad) == counted(unchanged=31, held=1)
    assert read[:2] == [32, 33]


def test_rows_of_which_the_file_tells_a_category_are_read_each_time(tmp_path, read):
    says = [*FILE, row(40, at={9: "lead"}), row(41, at={LEAD: "unknown, could be lead"})]
    taken(tmp_path, says)
    read.clear()
    assert same_the_long_way(tmp_path, [*says, row(42)])["new"] == 1
    assert read[:3] == [32, 33, 34]


@pytest.mark.parametrize(
    "more",
    [
        [row(5, at={SIDE: "lead"})],  # contradicts a row that is as before
        [row(5)],
        [row(5, at={1: "5 MILL STREET"})],
        [row(5, at={0: ""})],  # the same line by its address
        [row(5, at={0: "", SIDE: "lead"}), row(6, at={0: ""})],
        [row(5, at={0: "X", 2: "41.6"})],
        [row(n, at={1: f"{n} Mill Lane", 0: f"N{n}"}) for n in range(1, 12)],  # look alike
        [row(99, at={0: ""})],
    ],
    ids=str,
)
def test_rows_beside_those_as_before_come_to_the_same(tmp_path, more):
    taken(tmp_path)
    counts = same_the_long_way(tmp_path, [*FILE, *more])
    assert sum(counts.values()) == 2 * counts["total"]


def test_new_lines_beside_premises_that_the_file_does_not_name_are_told(tmp_path):
    taken(tmp_path)
    beside = [row(n, at={1: f"{n} Mill Lane", 0: f"N{n}"}) for n in range(1, 12)]
    assert any("stand within" in note for note in told(tmp_path, [*FILE[11:], *beside])[2]["notes"])
    assert not any("stand within" in note for note in told(tmp_path, [*FILE, *beside])[2]["notes"])


def _corrected(folder, first):
    line = ServiceLine.objects.get(location_id="L3")
    building_record(
        premise=line.premise, kind="SCHOOL", building_year=None, plumbing="",
        plumbing_year=None, treatment="",
        source="a visit", by="clerk", at=MAY,
    )  # fmt: skip


def _moved_by_a_file(folder, first):
    taken(folder, [row(3, at={2: "41.9"})], MAY, "moved.csv")


def _moved_and_back(folder, first):
    _moved_by_a_file(folder, first)
    taken(folder, FILE, MAY, "again.csv")


def _later_file_taken_back(folder, first):
    later = taken(folder, [row(3, at={LEAD: "lead"})], MAY, "later.csv")
    intake_undo(batch=later, by="clerk", at=MAY)


def _taken_back(folder, first):
    taken(folder, [row(3)], MAY, "before.csv")
    intake_undo(batch=first, by="clerk", at=MAY)


def _statement_withdrawn(folder, first):
    evidence = ServiceLine.objects.get(location_id="L3").evidence.first()
    evidence_withdraw(evidence=evidence, by="clerk", recorded_at=MAY, reason="another house")


def _program_reads_otherwise(folder, first):
    as_before._program.cache_clear()
    pytest.MonkeyPatch().setattr(as_before, "_READ_BY", ())


def _kept_file_was_altered(folder, first):
    with open(first.file.path, "a") as file:
        file.write(",".join(row(50)) + "\n")


NEXT = [*FILE[:20], row(21, at={LEAD: "lead"}), *FILE[21:], row(50)]


@pytest.mark.parametrize(
    "meanwhile, counts",
    [
        (_corrected, counted(new=1, changed=1, unchanged=29)),
        (_moved_by_a_file, counted(new=1, changed=2, unchanged=28)),
        (_moved_and_back, counted(new=1, changed=1, unchanged=29)),
        (_later_file_taken_back, counted(new=1, changed=1, unchanged=29)),
        (_taken_back, counted(new=31)),
        (_statement_withdrawn, counted(new=1, changed=1, unchanged=29)),
        (_kept_file_was_altered, counted(new=1, changed=1, unchanged=29)),
    ],
)
def test_what_happened_to_the_record_since_is_met(tmp_path, meanwhile, counts):
    meanwhile(tmp_path, taken(tmp_path))
    assert same_the_long_way(tmp_path, NEXT) == counts


def test_where_the_earlier_file_cannot_be_read_every_row_is(tmp_path, read, monkeypatch):
    def broken(path):
        raise UnreadableFile("Its reader was ended.")

    taken(tmp_path)
    read.clear()
    monkeypatch.setattr(as_before, "open_table", broken)
    assert told(tmp_path, NEXT)[0] == counted(new=1, changed=1, unchanged=29)
    assert len(read) == 31


def test_a_premise_whose_kind_a_person_corrected_is_read_anew_and_keeps_it(tmp_path, read):
    header = (*HEADER, "premise type")
    rows = [(*one[:8], "business") for one in FILE]
    run(open_file(tmp_path, rows, header=header))
    _corrected(tmp_path, None)
    read.clear()
    again = open_file(tmp_path, rows, header=header, at=MAY)
    counts = run(again, "CHECK")
    assert (read, counts) == ([4], counted(unchanged=30))
    assert any("repeats what another source has corrected" in one for one in again.result["notes"])


@pytest.mark.parametrize("change", ["source", "true_since", "columns", "program"])
def test_read_otherwise_every_row_is_read(tmp_path, read, monkeypatch, change):
    first = taken(tmp_path)
    read.clear()
    more = {}
    if change == "program":
        monkeypatch.setattr(as_before, "_program", lambda: "another one")
    elif change == "columns":
        columns = first.result["columns"]
        kept = {name: one for name, one in columns["columns"].items() if name != "line_use"}
        more = {"columns": {**columns, "columns": kept}}
    else:
        more = {change: {"source": "tap card", "true_since": MAY.date().isoformat()}[change]}
    told(tmp_path, FILE, **more)
    assert len(read) == 30


def test_a_word_answered_or_withdrawn_since_is_read_by_its_new_meaning(tmp_path):
    rows = [*FILE, row(40, at={LEAD: "QX"}), row(41, at={LEAD: "QX"})]
    first = open_file(tmp_path, rows, header=MORE)
    run(first, "CHECK")
    (asked,) = words_asked(first)
    answers = {asked["place"]: "LEAD"}
    first = words_answer(batch=first, answers=answers, reason="the shop", by="pat", at=APRIL)
    run(first)
    assert same_the_long_way(tmp_path, rows) == counted(unchanged=32)
    word_withdraw(word=OwnWord.objects.get(), reason="not so", by="pat", at=MAY)
    assert same_the_long_way(tmp_path, rows) == counted(unchanged=30, held=2)


def test_a_decision_about_a_match_is_asked_for_each_time_and_followed(tmp_path):
    taken(tmp_path)
    reused = [*FILE[1:], row(1, at={1: "80 Oak Ave", 2: "41.8"})]
    taken(tmp_path, reused, MAY, "reused.csv")
    question = MatchQuestion.objects.get()
    line = ServiceLine.objects.get(location_id="L1")
    match_decide(question=question, lines=[line], by="clerk", at=MAY)
    taken(tmp_path, reused, MAY, "decided.csv")
    assert same_the_long_way(tmp_path, reused) == counted(unchanged=30)
    question.refresh_from_db()
    matches_take_back(decision=question.decision, whole_act=False, reason="no", by="pat", at=MAY)
    assert same_the_long_way(tmp_path, reused)["total"] == 30
