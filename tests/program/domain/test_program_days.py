"""What is due from the program as a whole, and its calendar file; cases are constructed."""

from dataclasses import replace
from datetime import date

from icalendar import Calendar

from program.domain.deadlines import Discovery, DueState, Program, calendar_of, to_ics
from program.domain.deferral import (
    deferral,
    deferred_deadline,
    shortened_deadline,
    standard_deadline,
)

AS_OF = date(2031, 1, 15)
ORDINARY = Program("XX0000001", standard_deadline(), kept_since=date(2027, 1, 1))
DEFERRED = replace(ORDINARY, deadline=deferred_deadline(deferral(500, 1000)))


def by_key(program, as_of=AS_OF):
    return {
        due.key.replace("/PROGRAM/XX0000001", ""): due
        for due in calendar_of([program], as_of, with_done=True)
    }


def test_submissions_and_certifications_run_to_the_running_year():
    found = by_key(ORDINARY)
    assert found["ANNUAL_UPDATE_DAY/1"].due_on == date(2029, 1, 30)
    assert found["ANNUAL_UPDATE_DAY/3"].due_on == date(2031, 1, 30)
    assert found["ANNUAL_UPDATE_DAY/4"].due_on == date(2032, 1, 30)
    assert "ANNUAL_UPDATE_DAY/5" not in found
    assert found["NOTICE_CERTIFICATION_DAY/2030"].due_on == date(2031, 7, 1)
    assert found["PLAN_UPDATE_DAY/3"].due_on == date(2031, 1, 30)


def test_the_far_days():
    found = by_key(ORDINARY)
    assert found["REPLACEMENT_DEADLINE"].due_on == date(2037, 12, 31)
    assert found["UNKNOWNS_IDENTIFIED_BY"].due_on == date(2037, 12, 31)
    assert found["VALIDATION_DEADLINE"].due_on == date(2034, 12, 31)
    assert found["VALIDATION_RESULTS_DUE"].due_on == date(2035, 1, 30)


def test_what_was_due_before_the_record_began_is_left_out():
    assert "INITIAL_INVENTORY_DUE" not in by_key(ORDINARY)
    assert "INITIAL_INVENTORY_DUE" in by_key(replace(ORDINARY, kept_since=date(2024, 10, 16)))
    assert "NOTICE_CERTIFICATION_DAY/2024" not in by_key(ORDINARY)


def test_a_deferred_deadline_moves_the_end_and_adds_reviews():
    found = by_key(DEFERRED)
    assert found["REPLACEMENT_DEADLINE"].due_on == date(2040, 9, 30)
    assert found["UNKNOWNS_IDENTIFIED_BY"].due_on == date(2040, 9, 30)
    reviews = [due.due_on for key, due in found.items() if key.startswith("DEFERRAL_REVIEW")]
    assert reviews == [date(year, 11, 1) for year in (2030, 2033, 2036, 2039)]
    assert found["DEFERRAL_DOCUMENTS_DUE"].due_on == date(2027, 11, 1)
    assert "DEFERRAL_DOCUMENTS_DUE" not in by_key(ORDINARY)


def test_the_validation_day_of_another_deadline_is_the_states():
    assert "ask the State" in by_key(DEFERRED)["VALIDATION_DEADLINE"].how_computed
    own = shortened_deadline(
        date(2034, 12, 31), date(2028, 5, 2), validation_day=date(2032, 12, 31)
    )
    found = by_key(replace(ORDINARY, deadline=own))
    assert found["VALIDATION_DEADLINE"].due_on == date(2032, 12, 31)
    assert found["REPLACEMENT_DEADLINE"].due_on == date(2034, 12, 31)


def test_a_failed_year_asks_for_outreach():
    assert by_key(replace(ORDINARY, failed_years=(3,)))["RATE_OUTREACH_LAST_DAY/3"].due_on == date(
        2031, 12, 31
    )


def test_done_is_told_by_key():
    key = "ANNUAL_UPDATE_DAY/PROGRAM/XX0000001/1"
    done = replace(ORDINARY, done={key: date(2029, 2, 1)})
    due = by_key(done)["ANNUAL_UPDATE_DAY/1"]
    assert due.state(AS_OF) is DueState.DONE
    assert due.late


def test_a_complete_program_reports_the_years_it_had_and_no_further():
    found = by_key(replace(ORDINARY, complete=True))
    assert "ANNUAL_UPDATE_DAY/3" in found
    assert "ANNUAL_UPDATE_DAY/4" not in found
    assert "REPLACEMENT_DEADLINE" not in found


def test_before_the_compliance_date_the_first_submission_is_in_sight():
    found = by_key(ORDINARY, date(2027, 5, 1))
    assert found["ANNUAL_UPDATE_DAY/1"].due_on == date(2029, 1, 30)


class TestCalendarFile:
    facts = (ORDINARY, Discovery("L, 1; north", date(2030, 12, 28)))

    def events(self, as_of=AS_OF):
        dues = calendar_of(self.facts, as_of)
        return dues, list(Calendar.from_ical(to_ics(dues, as_of)).walk("VEVENT"))

    def test_it_reads_back_with_every_day_and_rule(self):
        dues, events = self.events()
        assert [event.decoded("dtstart") for event in events] == [due.due_on for due in dues]
        for due, event in zip(dues, events, strict=True):
            assert due.what in event["summary"]
            assert due.rule_id in event["description"]
            assert due.how_computed in event["description"]

    def test_uids_are_unique_and_stay(self):
        today = {event["uid"] for event in self.events()[1]}
        assert len(today) == len(self.events()[1])
        tomorrow = {event["uid"] for event in self.events(date(2031, 1, 16))[1]}
        assert today == tomorrow

    def test_a_moved_day_moves_the_event(self):
        def uid(program):
            due = by_key(program)["REPLACEMENT_DEADLINE"]
            (event,) = Calendar.from_ical(to_ics([due], AS_OF)).walk("VEVENT")
            return event["uid"], event.decoded("dtstart")

        (ordinary, first), (deferred, second) = uid(ORDINARY), uid(DEFERRED)
        assert ordinary == deferred
        assert first < second

    def test_the_same_dues_give_the_same_bytes(self):
        dues = calendar_of(self.facts, AS_OF)
        assert to_ics(dues, AS_OF) == to_ics(dues, AS_OF)

    def test_an_overdue_thing_says_so(self):
        dues, events = self.events()
        marked = [event for event in events if event["summary"].startswith("OVERDUE: ")]
        assert len(marked) == sum(due.state(AS_OF) is DueState.OVERDUE for due in dues) > 0

    def test_no_dues_is_still_a_calendar(self):
        assert Calendar.from_ical(to_ics([], AS_OF))["version"] == "2.0"
