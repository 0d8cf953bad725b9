"""What is due, from facts in the record."""

from datetime import date

import pytest
from django.db import connection

from program.domain.deadlines import DueState
from program.models import Inquiry
from program.operations.deadlines import deadline_done
from program.operations.notices import notice_add
from program.queries.deadlines import deadlines_on
from program.queries.deadlines.line_facts import discoveries
from program.rules import rules_in_force
from services_inventory import bulk
from services_inventory.refused import Refused
from tests.program.operations.factories import (
    NOW,
    TODAY,
    found,
    lines,
    moment,
    replaced,
    utility,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _utility():
    utility()


def dues(what: str) -> list:
    return [due for due in deadlines_on(TODAY).dues if what in due.what]


def test_the_submission_of_each_finished_year_is_due_until_it_is_certified():
    lines([("LEAD", "LEAD", "")])
    asked = dues("Inventory update and replacement report")
    assert [due.due_on for due in asked] == [
        date(2029, 1, 30), date(2030, 1, 30), date(2031, 1, 30), date(2032, 1, 30),
    ]  # fmt: skip
    assert [due.state(TODAY) for due in asked[:3]] == [
        DueState.OVERDUE, DueState.OVERDUE, DueState.DUE_SOON,
    ]  # fmt: skip


def test_what_is_recorded_as_done_is_left_out_and_cannot_be_done_twice():
    lines([("LEAD", "LEAD", "")])
    due = dues("program year 1")[0]
    said = {
        "key": due.key,
        "what": due.what,
        "done_on": date(2029, 1, 20),
        "proof": "Letter of 20 January 2029",
        "by": "compliance",
        "at": NOW,
        "today": TODAY,
    }
    deadline_done(**said)
    assert due.key not in {each.key for each in deadlines_on(TODAY).dues}
    with pytest.raises(Refused, match="already"):
        deadline_done(**said)
    with pytest.raises(Refused, match="still to come"):
        deadline_done(**(said | {"key": "other", "done_on": date(2031, 1, 16)}))
    with pytest.raises(Refused, match="proof"):
        deadline_done(**(said | {"key": "other", "proof": " "}))


def test_a_line_found_lead_owes_a_notice():
    (only,) = lines([("COPPER", "COPPER", "")])
    found(only, "CUSTOMER", "LEAD", date(2030, 12, 1), moment(date(2030, 12, 2)))
    (due,) = dues("Notice to the persons served")
    assert (due.subject.id, due.due_on) == (only.location_id, date(2031, 1, 1))
    assert due.state(TODAY) is DueState.OVERDUE


@pytest.mark.parametrize(
    ("quality", "expected"),
    [
        ({}, [date(2030, 12, 7)]),
        ({"household": {"sample_taken_on": "2030-10-01"}}, []),
        ({"household": {"sample_offered_on": "2030-06-07"}}, []),
    ],
)
def test_a_follow_up_sample_is_due_unless_taken_or_offered_in_time(quality, expected):
    (only,) = lines([("LEAD", "LEAD", "")])
    work = replaced(only, date(2030, 6, 7))
    work.completion.quality = quality
    work.completion.save()
    assert [due.due_on for due in dues("Follow-up")] == expected


def test_an_inquiry_is_due_until_it_is_answered():
    (only,) = lines([("LEAD", "LEAD", "")])
    asked = Inquiry.objects.create(
        line=only, kind="WRONG_CATEGORY", address_given="1 Mill St", received_on=date(2030, 12, 30)
    )
    (due,) = dues("Response to an inquiry")
    assert due.due_on == date(2031, 2, 28)
    asked.answered_on = TODAY
    asked.save()
    assert not dues("Response to an inquiry")


def test_facts_beyond_the_limit_are_told():
    for number in range(3):
        Inquiry.objects.create(
            kind="WRONG_CATEGORY", address_given=f"{number} Mill St", received_on=TODAY
        )
    assert deadlines_on(TODAY, limit=2).cut == ("inquiries",)
    assert deadlines_on(TODAY, limit=3).cut == ()


def event(of, name: str, on: date):
    return notice_add(line=of, event=name, on=on, by="office", as_of=TODAY)


def test_a_cut_line_is_owed_a_filter_by_its_return_to_service_a_shut_off_one_the_notice_alone():
    (cut, shut) = lines([("LEAD", "LEAD", ""), ("LEAD", "LEAD", "")])
    event(cut, "CUT", date(2031, 1, 10))
    event(shut, "SHUT_OFF", date(2031, 1, 10))
    (filters,) = dues("Filter with 6 months of cartridges given")
    assert (filters.subject.id, filters.due_on) == (cut.location_id, date(2031, 1, 10))
    assert len(dues("Notice: disturbance")) == 2


def test_an_emergency_partial_owes_filter_and_sample_until_they_are_recorded():
    (only,) = lines([("LEAD", "LEAD", "")])
    event(only, "EMERGENCY_PARTIAL", date(2030, 10, 15))
    (sample,) = dues("Follow-up tap sample")
    assert (sample.opens_on, sample.due_on) == (date(2031, 1, 15), date(2031, 4, 15))
    (filters,) = dues("Filter with")
    deadline_done(
        key=filters.key, what=filters.what, done_on=date(2030, 10, 15), proof="receipt",
        by="office", at=NOW, today=TODAY,
    )  # fmt: skip
    assert dues("Filter with") == []


def test_a_notice_recorded_as_done_stays_done_whomever_the_calendar_says_it_is_about():
    """Earlier the calendar named every notice and inquiry by its line."""
    (only,) = lines([("LEAD", "LEAD", "")])
    notice = event(only, "CUT", date(2031, 1, 10))
    said = {"what": "Notice", "done_on": TODAY, "proof": "letter", "by": "office", "at": NOW}
    key = f"{notice.rule_id}/LINE/{only.location_id}/notice-{notice.pk}"
    deadline_done(key=key, today=TODAY, **said)
    assert dues("Notice: disturbance") == []


@pytest.mark.skipif(bulk.on_postgresql(), reason="PostgreSQL walks a small table whatever is there")
def test_the_oldest_discoveries_are_read_without_sorting_all():
    plans = []

    def explained(execute, sql, params, many, context):
        asked = "EXPLAIN QUERY PLAN " + sql.replace("%s", "?")
        plans.append([row[3] for row in connection.connection.cursor().execute(asked, params)])
        return execute(sql, params, many, context)

    rules = rules_in_force()
    with connection.execute_wrapper(explained):
        list(discoveries(TODAY, rules, 50))
    [plan] = plans
    assert any("change_from_non_lead" in step for step in plan)
    assert not any("TEMP B-TREE" in step for step in plan)
