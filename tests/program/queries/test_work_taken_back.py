"""Replacements taken back: counts, rate and pool follow; what was filed stays. Constructed."""

import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from program.domain.counting import CountKind
from program.models import CustomerWork, Notice, PoolFreeze
from program.notices.owed import owed_for_events
from program.operations.notices import notices_owe
from program.operations.pools import pools_freeze_due
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_freeze
from program.queries.customer_work import _works
from program.queries.deadlines.line_facts import works
from program.queries.plan_document.case import Case
from program.queries.plan_document.procedures import procedure
from program.queries.planning.board import _counts
from program.queries.pools import _work_days, replaced_on
from program.queries.rates import counts_on, rate_on, year_records
from program.queries.replacements import counted_works, full_replacements, kinds_by_year
from program.rules import rules_in_force
from services_inventory.models import Evidence
from services_inventory.operations.evidence import evidence_record_again, evidence_withdraw
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.past import recount
from tests.program.operations.factories import (
    NOW,
    TODAY,
    lines,
    moment,
    replaced,
    standing_town,
    utility,
)

pytestmark = pytest.mark.django_db
LAST_DAY = date(2030, 12, 31)
LATER = NOW + timedelta(days=20)


def back(line, *, portions=("SYSTEM", "CUSTOMER"), never_true=True, at=LATER) -> list[Evidence]:
    """Take back what was said to be laid in a line."""
    laid = Evidence.objects.filter(line=line, basis="REPLACEMENT", withdraws=None)
    rows = [row for row in laid if row.portion in portions]
    for row in rows:
        evidence_withdraw(
            evidence=row, by="manager", recorded_at=at, reason="It was 14", never_true=never_true
        )
    return rows


def full_by_year(as_of=LAST_DAY, known_at=None) -> dict[int, int]:
    """Return {program year: full replacements}."""
    found = kinds_by_year(as_of, known_at)
    return {year: sum(n for kind, n in kinds.items() if kind.is_full) for year, kinds in
            found.items()}  # fmt: skip


@pytest.fixture
def wrong_house():
    """Return a line of a town that was said to be replaced in program year 1."""
    return standing_town()["lead"][0]


def test_work_that_was_never_done_counts_for_no_day_and_what_was_known_then_stays(wrong_house):
    assert full_by_year() == {1: 2, 2: 2, 3: 3}
    back(wrong_house)
    assert full_by_year() == full_by_year(TODAY) == {1: 1, 2: 2, 3: 3}
    assert full_by_year(known_at=NOW) == {1: 2, 2: 2, 3: 3}
    assert full_replacements() == 6
    assert category_counts_on(LAST_DAY, NOW)["LEAD"] + 1 == category_counts_on(LAST_DAY)["LEAD"]
    assert recount(LAST_DAY)["differences"] == recount(LAST_DAY, NOW)["differences"] == 0


def test_work_that_is_only_taken_back_counted_until_then(wrong_house):
    back(wrong_house, never_true=False)
    assert full_by_year() == {1: 2, 2: 2, 3: 3}
    assert full_by_year(LATER.date())[1] == 1


def test_rate_and_pool_follow_and_a_frozen_pool_stays(wrong_house):
    pools_freeze_due(as_of=TODAY, by="manager", at=NOW)
    frozen = dict(PoolFreeze.objects.values_list("program_year", "size"))
    before = rate_on(TODAY, counts_on(TODAY, TODAY))
    back(wrong_house)
    on = LATER.date()
    after = rate_on(on, counts_on(on, on))
    assert [row.record.replaced for row in before.years[:3]] == [2, 2, 3]
    assert [row.record.replaced for row in after.years[:3]] == [1, 2, 3]
    assert after.years[0].assessment.cumulative < before.years[0].assessment.cumulative
    assert dict(PoolFreeze.objects.values_list("program_year", "size")) == frozen
    known_then = year_records(TODAY, NOW)
    assert [record.replaced for record in known_then[:3]] == [2, 2, 3]
    next_year = date(2032, 1, 15)
    pools_freeze_due(as_of=next_year, by="manager", at=moment(next_year))
    last = PoolFreeze.objects.order_by("program_year").last()
    # What is replaced stays in the pool, so what turns out not to be does not move it.
    assert last.size == frozen[4]


def test_one_side_taken_back_leaves_a_partial_replacement():
    (only,) = lines([("LEAD", "LEAD", "")])
    replaced(only, date(2028, 6, 7))
    assert [work.kind for work in counted_works(LAST_DAY)] == [CountKind.FULL_LEAD]
    back(only, portions=("CUSTOMER",))
    assert [work.kind for work in counted_works(LATER.date())] == [CountKind.PARTIAL_LEAD]
    assert full_replacements() == 0


def test_what_was_taken_back_by_mistake_and_recorded_again_counts_again(wrong_house):
    rows = back(wrong_house)
    assert full_by_year()[1] == 1
    for row in rows:
        evidence_record_again(
            evidence=row, by="manager", recorded_at=LATER + timedelta(days=1), reason="It was ours"
        )
    assert full_by_year() == {1: 2, 2: 2, 3: 3}
    assert full_by_year(known_at=LATER)[1] == 1


def test_what_was_filed_stays_and_can_be_built_again_to_the_byte(wrong_house):
    filed = submission_freeze(year=2030, by="manager", at=NOW, today=TODAY)
    back(wrong_house)
    assert submission_verify(submission=filed, at=LATER).agrees


def test_every_reader_of_work_begins_with_what_stands():
    """But those who are given the works by a reader that did, and lists of all that a line had."""
    root = Path(__file__).parents[3]
    allowed = r"standing\(|bulk_create\(|filter\(id__in=ids\)|exclude\(pk__in=stands"
    reads = re.compile(rf"(?:Replacement\.objects|line\.replacements)\s*\.(?!{allowed}).*")
    all_of_a_line = "program/queries/custody.py"
    found = [
        f"{path.relative_to(root)}: {hit.group()}"
        for app in ("services_inventory", "replacements", "program")
        for path in (root / app).rglob("*.py")
        for hit in reads.finditer(path.read_text())
        if str(path.relative_to(root)) != all_of_a_line
    ]
    assert found == []


@pytest.mark.parametrize("portions", [("SYSTEM", "CUSTOMER"), ("SYSTEM",)])
def test_notice_of_work_taken_back_is_called_off_and_owed_again_when_it_stands(portions):
    (only,) = lines([("LEAD", "LEAD", "")])
    work = replaced(only, date(2028, 6, 7))
    notices_owe(TODAY)
    notice = Notice.objects.get(line=only, subject=f"replacement-{work.pk}")
    rows = back(only, portions=portions)
    notices_owe(LATER.date())
    notice.refresh_from_db()
    assert bool(notice.withdrawn_on) is (len(portions) == 2)
    if len(portions) == 2:
        assert notice.withdrawn_why == "The record of that work was taken back."
    for row in rows:
        evidence_record_again(
            evidence=row, by="manager", recorded_at=LATER + timedelta(days=1), reason="It was ours"
        )
    notices_owe(LATER.date() + timedelta(days=1))
    notice.refresh_from_db()
    assert notice.withdrawn_on is None


def test_no_notice_sample_or_count_comes_of_work_taken_back():
    """Each reader is asked with the work, without it, and with it as was known then."""
    utility()
    (only,) = lines([("LEAD", "LEAD", "")])
    day = date(2031, 1, 2)
    work = replaced(only, day, NOW)
    on, rules = LATER.date(), rules_in_force()
    CustomerWork.objects.create(line=only, told_on=day, recorded_at=LATER)
    readers = {
        "notice": lambda: len(list(owed_for_events(on, rules))),
        "sample": lambda: len(list(works(on, rules, 10))),
        "neighborhoods": lambda: sum(_counts(on)["done"].values()),
        "method": lambda: len(procedure(Case(as_of=on, known_at=LATER)).tables),
        "customer work": lambda: sum(
            work.replaced_on is not None for work in _works(CustomerWork.objects.all(), on)
        ),
        "day of the pool": lambda: len(replaced_on(day)),
        "days of a year": lambda: len(_work_days(date(2031, 1, 1), on, None)),
    }
    assert {name: read() for name, read in readers.items()} == dict.fromkeys(readers, 1)
    back(only)
    assert {name: read() for name, read in readers.items()} == dict.fromkeys(readers, 0)
    assert replaced_on(day, NOW) == {only.pk: "LEAD"}
    assert work.pk and _work_days(day, on, NOW) == {(only.pk, day)}
