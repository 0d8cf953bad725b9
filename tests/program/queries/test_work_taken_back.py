"""Replacements taken back: counts, rate and pool follow; what was filed stays. Constructed."""

from datetime import date, timedelta

import pytest

from program.domain.counting import CountKind
from program.models import PoolFreeze
from program.operations.pools import pools_freeze_due
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_freeze
from program.queries.rates import counts_on, rate_on, year_records
from program.queries.replacements import counted_works, full_replacements, kinds_by_year
from services_inventory.models import Evidence
from services_inventory.operations.evidence import evidence_record_again, evidence_withdraw
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.past import recount
from tests.program.operations.factories import NOW, TODAY, lines, moment, replaced, town, utility

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
    utility()
    return town()["lead"][0]


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
    assert submission_verify(submission=filed).agrees
