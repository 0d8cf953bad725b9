"""Who is owed a notice, by which day: 40 CFR 141.85(e), 141.84(h).

The first notices were due on 15 November 2024, 30 days after the initial inventory's day
(Minnesota MDH bulletin; Colorado CDPHE page). The other cases are constructed.
"""

from datetime import UTC, date, datetime

import pytest

from program.models import Notice
from program.notices.templates_text import NoticeRefused
from program.operations.deliveries import notice_deliver, notice_return
from program.operations.notices import notice_add, notices_owe
from replacements.models import CompletionRecord, Contractor, Replacement, WorkOrder
from services_inventory.models import ServiceLine, ValidationDraw, ValidationPick
from services_inventory.operations.evidence import evidence_record
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db

EARLY = datetime(2024, 5, 2, 9, tzinfo=UTC)


def owed():
    rows = Notice.objects.open().order_by("line_id", "due_on")
    return [(n.line_id, n.kind, n.due_on, n.rule_id) for n in rows]


def send(line, on):
    notice = Notice.objects.open().get(line=line)
    return notice_deliver(notice=notice, on=on, means="POST", by="clerk", as_of=on)


def test_first_notices_were_due_on_15_november_2024():
    line = line_of("LEAD", "COPPER", at=EARLY, basis="RECORD_TAP_CARD")
    assert notices_owe(date(2024, 10, 20)) == 1
    expected = (line.pk, "LEAD", date(2024, 11, 15), "NOTICE_AFTER_INVENTORY_DAYS")
    assert owed() == [expected]


def test_a_second_run_adds_nothing_and_non_lead_lines_are_owed_nothing():
    line_of("COPPER", "COPPER")
    line_of("GALVANIZED", "GALVANIZED")
    line_of()
    assert notices_owe(date(2028, 3, 1)) == 2
    assert notices_owe(date(2028, 3, 2)) == 0
    assert {kind for _, kind, _, _ in owed()} == {"GRR", "UNKNOWN"}


def test_the_notice_repeats_a_year_after_it_was_delivered():
    line = line_of("LEAD", "LEAD")
    notices_owe(date(2028, 3, 1))
    send(line, date(2028, 3, 20))
    notices_owe(date(2028, 3, 21))
    assert owed() == [(line.pk, "LEAD", date(2029, 3, 20), "NOTICE_REPEAT_MONTHS")]


def test_lead_found_where_unknown_was_recorded_is_told_within_30_days():
    line = line_of(at=EARLY, basis="RECORD_TAP_CARD")
    notices_owe(date(2027, 1, 1))
    send(line, date(2027, 1, 2))
    notices_owe(date(2027, 1, 3))
    evidence_record(
        line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", points_seen=1,
        observed_on=date(2028, 2, 1), by="crew", recorded_at=MORNING,
    )  # fmt: skip
    notices_owe(date(2028, 3, 1))
    expected = (line.pk, "LEAD", date(2028, 3, 31), "NOTICE_AFTER_DISCOVERY_DAYS")
    assert owed() == [expected]
    old = Notice.objects.get(line=line, kind="UNKNOWN", delivered_on=None)
    assert old.withdrawn_on == date(2028, 3, 1) and "no longer" in old.withdrawn_why


def test_returned_mail_is_owed_again_by_its_first_day():
    line = line_of("LEAD", "LEAD")
    notices_owe(date(2028, 3, 1))
    notice = send(line, date(2028, 3, 5))
    notices_owe(date(2028, 3, 6))
    notice_return(
        notice=notice, on=date(2028, 3, 9), why="Vacant", by="clerk", at=MORNING,
        as_of=date(2028, 3, 9),
    )  # fmt: skip
    notices_owe(date(2028, 3, 10))
    assert owed() == [(line.pk, "LEAD", date(2028, 3, 31), "NOTICE_AFTER_INVENTORY_DAYS")]
    returned = notice.returns.get()
    assert (returned.sent_on, returned.returned_on) == (date(2028, 3, 5), date(2028, 3, 9))


def test_a_validation_finding_gets_its_own_letter_and_no_second_one():
    line = line_of("COPPER", "COPPER", at=EARLY, basis="RECORD_TAP_CARD")
    draw = ValidationDraw.objects.create(
        drawn_on=date(2028, 1, 1), drawn_by="c", seed="1", pool_size=1, pool_sha256="", required=1
    )
    ValidationPick.objects.create(
        draw=draw, line=line, position=1, result="FOUND_LEAD", result_on=date(2028, 3, 1)
    )
    ServiceLine.objects.filter(pk=line.pk).update(category="LEAD", category_since=date(2028, 3, 1))
    notices_owe(date(2028, 3, 2))
    assert owed() == [
        (line.pk, "VALIDATION_FINDING", date(2028, 3, 31), "NOTICE_AFTER_DISCOVERY_DAYS")
    ]
    send(line, date(2028, 3, 4))
    notices_owe(date(2028, 3, 5))
    assert owed() == [(line.pk, "LEAD", date(2029, 3, 4), "NOTICE_REPEAT_MONTHS")]


def test_a_disturbance_and_a_sample_start_clocks_of_their_own():
    line = line_of("LEAD", "LEAD")
    today = date(2028, 3, 6)
    cut = notice_add(line=line, event="CUT", on=date(2028, 3, 3), by="c", as_of=today)
    # Friday 3 March 2028 plus three business days is Wednesday 8 March.
    sample = notice_add(
        line=line, event="SAMPLE", on=date(2028, 3, 3), by="c", as_of=today, result="4 ug/L"
    )
    assert (cut.kind, cut.due_on) == ("DISTURBANCE", date(2028, 3, 3))
    assert (sample.kind, sample.due_on) == ("SAMPLE_RESULT", date(2028, 3, 8))
    with pytest.raises(NoticeRefused, match="on the list already"):
        notice_add(line=line, event="CUT", on=date(2028, 3, 3), by="c", as_of=today)
    with pytest.raises(NoticeRefused, match="lies ahead"):
        notice_add(line=line, event="CUT", on=date(2028, 3, 9), by="c", as_of=today)


def test_returned_before_it_was_sent_is_refused():
    line = line_of("LEAD", "LEAD")
    notices_owe(date(2028, 3, 1))
    notice = Notice.objects.open().get(line=line)
    with pytest.raises(NoticeRefused, match="not recorded as sent"):
        notice_return(
            notice=notice, on=date(2028, 3, 2), why="", by="c", at=MORNING, as_of=date(2028, 3, 9)
        )


def replaced(line, quality, category_after="NON_LEAD"):
    """An accepted replacement of the line on 15 February 2028, as the crew handed it in."""
    contractor = Contractor.objects.create(name=f"Crew {line.pk}")
    order = WorkOrder.objects.create(
        number=f"W-{line.pk}", line=line, contractor=contractor, state="ACCEPTED",
        created_by="c", created_at=MORNING,
    )  # fmt: skip
    done = CompletionRecord.objects.create(
        work_order=order, finished_on=date(2028, 2, 15), quality=quality, handed_in_by="crew",
        handed_in_at=MORNING,
    )  # fmt: skip
    return Replacement.objects.create(
        completion=done, line=line, replaced_on=date(2028, 2, 15), category_before="LEAD",
        facts_before="", category_after=category_after, facts_after="", accepted_at=MORNING,
    )  # fmt: skip


def test_a_replacement_is_announced_before_the_line_returns_to_service():
    told, not_told = line_of("COPPER", "COPPER"), line_of("COPPER", "COPPER")
    replaced(told, {"household": {"notice_on": "2028-02-15"}})
    replaced(not_told, {})
    assert notices_owe(date(2028, 3, 1)) == 2
    assert owed() == [(not_told.pk, "REPLACEMENT", date(2028, 2, 15), "WORK_NOTICE_DAYS")]
    handed_over = Notice.objects.get(line=told)
    assert (handed_over.delivered_on, handed_over.delivered_by) == (date(2028, 2, 15), "BY_HAND")
    assert notices_owe(date(2028, 3, 2)) == 0


def test_a_planned_partial_replacement_is_announced_45_days_before_its_work():
    """40 CFR 141.84(h): at least 45 days before a planned partial starts (marked memory)."""
    line = line_of("LEAD", "LEAD")
    notice = notice_add(
        line=line, event="PLANNED_PARTIAL", on=date(2028, 6, 15), by="c", as_of=date(2028, 4, 1)
    )
    assert (notice.kind, notice.due_on) == ("PARTIAL", date(2028, 5, 1))
    assert notice.rule_id == "PARTIAL_NOTICE_DAYS"
    assert notice.how_computed.startswith("45 days before the start of work on Jun 15, 2028")
    assert notice.values["occasion"] == "Planned infrastructure work"


def test_an_emergency_partial_is_announced_before_the_line_returns_to_service():
    line = line_of("GALVANIZED", "GALVANIZED")
    day = date(2028, 6, 15)
    notice = notice_add(line=line, event="EMERGENCY_PARTIAL", on=day, by="c", as_of=day)
    assert (notice.kind, notice.due_on) == ("PARTIAL", day)
    with pytest.raises(NoticeRefused, match="lies ahead"):
        notice_add(line=line, event="EMERGENCY_PARTIAL", on=date(2028, 7, 1), by="c", as_of=day)


def test_a_partial_replacement_asks_only_at_a_line_that_may_be_lead():
    line = line_of("COPPER", "COPPER")
    with pytest.raises(NoticeRefused, match="no notice at this line"):
        notice_add(
            line=line, event="PLANNED_PARTIAL", on=date(2028, 6, 15), by="c",
            as_of=date(2028, 4, 1),
        )  # fmt: skip


def test_partial_work_that_nobody_announced_is_owed_its_own_notice():
    announced, sudden = line_of("LEAD", "LEAD"), line_of("LEAD", "LEAD")
    notice_add(
        line=announced, event="PLANNED_PARTIAL", on=date(2028, 2, 15), by="c",
        as_of=date(2028, 1, 1),
    )  # fmt: skip
    for line in (announced, sudden):
        replaced(line, {}, category_after="LEAD")
    notices_owe(date(2028, 3, 1))
    partial = Notice.objects.filter(kind="PARTIAL").order_by("line_id")
    assert [(n.line_id, n.rule_id) for n in partial] == [
        (announced.pk, "PARTIAL_NOTICE_DAYS"),
        (sudden.pk, "WORK_NOTICE_DAYS"),
    ]
    assert not Notice.objects.filter(kind="REPLACEMENT").exists()
    assert notices_owe(date(2028, 3, 2)) == 0
