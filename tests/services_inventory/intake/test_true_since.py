"""A file that is true since a day: past days follow it, what was known then stays. Constructed."""

from datetime import date, timedelta

import pytest

from services_inventory.models import Batch, Evidence, ServiceLine
from services_inventory.operations.batches import batch_run
from services_inventory.operations.evidence import evidence_withdraw
from services_inventory.operations.standings import standings_compare
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.checks import checks
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.past import recount
from tests.services_inventory.operations.takes import (
    APRIL,
    ELM,
    MILL,
    OAK,
    counted,
    open_file,
    run,
    take_in,
)

pytestmark = pytest.mark.django_db
BEGUN = APRIL.date()
SINCE = date(2028, 6, 1)
YEAR_END = date(2028, 12, 31)
FILED = APRIL.replace(year=2029, month=1, day=20)
LATER = APRIL.replace(year=2029, month=2, day=3)
TRUE_SINCE = {"at": LATER, "true_since": SINCE.isoformat()}
LEAD_AT_OAK = (*OAK[:4], "lead", "", "", "tap card")


def counts_on(day, known=None) -> dict:
    """Return the categories that have lines at the end of a day; the recount must agree."""
    assert recount(day, known)["differences"] == 0, day
    counts = category_counts_on(day, known)
    return {name: number for name, number in counts.items() if number and name != "total"}


def sound():
    """Assert that the record breaks no rule and every standing follows from its evidence."""
    assert [sentence for check in checks() for sentence in check()] == []
    assert standings_compare(recorded_at=LATER)["differences"] == 0


def refused(tmp_path, rows, **more) -> str:
    """Return why a file is refused; nothing of it was kept."""
    before = Evidence.objects.count(), ServiceLine.objects.count()
    batch = open_file(tmp_path, rows, **more)
    batch.parameters = {**batch.parameters, "step": "APPLY"}
    batch_run(batch=batch)
    assert batch.state == Batch.State.REFUSED
    assert (Evidence.objects.count(), ServiceLine.objects.count()) == before
    return batch.message


def test_past_days_follow_and_what_was_known_then_stays(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    assert take_in(tmp_path, [LEAD_AT_OAK], **TRUE_SINCE) == counted(changed=1)
    assert counts_on(SINCE - timedelta(days=1)) == {"LEAD": 1, "NON_LEAD": 1}
    assert counts_on(SINCE) == counts_on(YEAR_END) == counts_on(LATER.date()) == {"LEAD": 2}
    assert counts_on(YEAR_END, FILED) == {"LEAD": 1, "NON_LEAD": 1}
    assert ServiceLine.objects.get(location_id="L2").category_since == SINCE
    sound()


def test_a_line_that_was_missing_counts_since_that_day_whatever_is_known_of_it(tmp_path):
    take_in(tmp_path, [MILL])
    nothing_known = ("L9", "9 Elm Rd", "41.53", "-100.33", "unk", "unk", "", "")
    rows = [ELM, nothing_known]
    assert take_in(tmp_path, rows, **TRUE_SINCE) == counted(new=2)
    before, since = counts_on(SINCE - timedelta(days=1)), counts_on(SINCE)
    assert before == {"LEAD": 1}
    assert sum(since.values()) == 3
    assert counts_on(YEAR_END) == since
    assert counts_on(YEAR_END, FILED) == {"LEAD": 1}
    assert {str(one.category_since) for one in ServiceLine.objects.exclude(location_id="L1")} == {
        str(SINCE)
    }
    sound()


def test_what_is_known_but_only_since_later_is_recorded_since_then_and_once(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    take_in(tmp_path, [LEAD_AT_OAK], at=FILED)
    assert counts_on(YEAR_END) == {"LEAD": 1, "NON_LEAD": 1}
    assert take_in(tmp_path, [MILL, LEAD_AT_OAK], **TRUE_SINCE) == counted(changed=1, unchanged=1)
    assert counts_on(YEAR_END) == {"LEAD": 2}
    assert take_in(tmp_path, [MILL, LEAD_AT_OAK], **TRUE_SINCE) == counted(unchanged=2)
    sound()


def test_what_a_person_took_back_is_not_brought_back_by_a_day(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    take_in(tmp_path, [LEAD_AT_OAK], at=FILED)
    lead = Evidence.objects.get(line__location_id="L2", material="LEAD")
    evidence_withdraw(
        evidence=lead, by="clerk", recorded_at=FILED, reason="14 Oak", never_true=True
    )
    assert take_in(tmp_path, [LEAD_AT_OAK], **TRUE_SINCE) == counted(unchanged=1)
    assert counts_on(YEAR_END) == {"LEAD": 1, "NON_LEAD": 1}


def test_a_pipe_laid_later_counts_since_it_was_laid_and_a_replacement_since_its_work(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    header = ("location id", "system side material", "customer side material", "source",
              "customer side install date")  # fmt: skip
    rows = [("L1", "", "copper", "installation record", "2028-09-15")]
    assert take_in(tmp_path, rows, header=header, **TRUE_SINCE) == counted(changed=1)
    laid = Evidence.objects.get(installed_on=date(2028, 9, 15))
    assert laid.counts_from == date(2028, 9, 15)
    assert take_in(tmp_path, rows, header=header, **TRUE_SINCE) == counted(unchanged=1)
    sound()


def test_taken_back_it_counts_for_no_day_and_only_until_then_where_it_was_true(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    batch = open_file(tmp_path, [LEAD_AT_OAK, ELM], **TRUE_SINCE)
    run(batch)
    whole = counts_on(YEAR_END)
    assert sum(whole.values()) == 3
    intake_undo(batch=batch, by="manager", at=LATER + timedelta(days=1))
    assert counts_on(YEAR_END) == whole
    assert counts_on((LATER + timedelta(days=1)).date()) == {"LEAD": 1, "NON_LEAD": 1}
    intake_undo(batch=batch, by="manager", at=LATER + timedelta(days=2), never_true=True)
    assert counts_on(SINCE) == counts_on(YEAR_END) == {"LEAD": 1, "NON_LEAD": 1}
    assert counts_on(YEAR_END, LATER) == whole
    sound()


def test_a_day_that_cannot_be_is_refused_in_a_sentence(tmp_path):
    assert "Nothing is on record yet" in refused(tmp_path, [MILL], **TRUE_SINCE)
    take_in(tmp_path, [MILL])
    early = (BEGUN - timedelta(days=1)).isoformat()
    said = refused(tmp_path, [LEAD_AT_OAK], at=LATER, true_since=early)
    assert "The record begins on Apr 3, 2028" in said
    said = refused(tmp_path, [LEAD_AT_OAK], at=LATER, true_since="2029-02-04")
    assert "has not come yet" in said
