"""Every clock on both sides of its day; cases are constructed from the rule's values."""

from datetime import date, timedelta

import pytest
from icalendar import Calendar

from program.domain.deadlines import (
    CustomerStarted,
    Discovery,
    Disturbance,
    DisturbanceKind,
    Due,
    DueState,
    Inquiry,
    InventoryFinished,
    NewCustomer,
    OwnerChange,
    ReplacementWork,
    SampleResult,
    Subject,
    SubjectKind,
    WorkKind,
    YearlyNotice,
    calendar_of,
    grouped,
    keep_until,
    to_ics,
)
from program.domain.regulation import RULES
from services_inventory.domain.days import day_told
from tests.program.domain.test_calendar import override

AS_OF = date(2028, 3, 2)


def days(fact, as_of=AS_OF, rules=RULES):
    return {due.what: due.due_on for due in fact.dues(as_of, rules)}


def test_states_on_both_sides_of_the_day():
    due = Due("Thing", Subject(SubjectKind.LINE, "L1"), date(2028, 3, 31), "X", "How.")
    assert due.state(date(2028, 2, 29)) is DueState.OPEN
    assert due.state(date(2028, 3, 1)) is DueState.DUE_SOON
    assert due.state(date(2028, 3, 31)) is DueState.DUE_SOON
    assert due.state(date(2028, 4, 1)) is DueState.OVERDUE


def test_a_thing_done_later_was_not_done_yet():
    due = Due("T", Subject(SubjectKind.LINE, "L1"), date(2028, 3, 1), "X", "", date(2028, 3, 5))
    assert due.late
    assert due.state(date(2028, 3, 4)) is DueState.OVERDUE
    assert due.state(date(2028, 3, 5)) is DueState.DONE


def test_discovery_tells_within_30_days():
    found = days(Discovery("L1", date(2028, 3, 1)))
    assert found == {
        "Notice to the persons served": date(2028, 3, 31),
        "Inventory corrected": date(2028, 3, 31),
    }


def test_the_initial_notice_date_is_the_initial_inventory_plus_its_clock():
    first = InventoryFinished("A1", RULES.latest("INITIAL_INVENTORY_DUE").value)
    assert days(first)["First notice"] == RULES.latest("INITIAL_NOTICE_DUE").value


def test_yearly_notice_repeats_after_a_year_or_on_a_states_day():
    assert days(YearlyNotice("A1", date(2028, 2, 29))) == {"Yearly notice": date(2029, 2, 28)}
    fixed = RULES.with_overrides([override("NOTICE_LAST_DAY", "12-31")])
    assert days(YearlyNotice("A1", date(2028, 2, 29)), rules=fixed) == {
        "Yearly notice": date(2029, 12, 31)
    }


def test_new_customer_is_told_at_the_start_of_service():
    (due,) = NewCustomer("C1", AS_OF).dues(AS_OF, RULES)
    assert due.due_on == AS_OF
    assert due.how_computed.startswith("On or before the start of service")


def test_inquiry_60_days_and_the_update_after_an_inspection():
    assert days(Inquiry("Q1", "L1", date(2028, 3, 1))) == {
        "Response to an inquiry": date(2028, 4, 30),
        "Offer to inspect the line": date(2028, 3, 31),
    }
    inspected = days(Inquiry("Q1", "L1", date(2028, 3, 1), inspected_on=date(2028, 4, 10)))
    assert inspected["Inventory updated after an inspection"] == date(2028, 6, 9)


@pytest.mark.parametrize("follow_up", [False, True])
def test_result_within_three_business_days(follow_up):
    found = days(SampleResult("S1", "A1", date(2028, 5, 26), follow_up))
    assert found == {"Result to the household": date(2028, 6, 1)}


def test_new_owner_offer_and_effort():
    assert list(days(OwnerChange("L1", date(2028, 8, 31))).values()) == [
        date(2029, 2, 28),
        date(2029, 8, 31),
    ]


class TestCustomerStarted:
    done = date(2028, 3, 1)

    def test_45_days_when_told_beforehand(self):
        assert days(CustomerStarted("L1", self.done, date(2028, 2, 1))) == {
            "System side replaced": date(2028, 4, 15)
        }

    def test_180_days_and_the_states_notice_when_extended(self):
        fact = CustomerStarted("L1", self.done, self.done, extended=True)
        assert days(fact) == {
            "System side replaced": date(2028, 4, 15),
            "State told that the shorter clock is missed": date(2028, 3, 31),
            "System side replaced, outermost day": date(2028, 8, 28),
        }

    def test_once_the_state_is_told_the_outermost_day_stands_alone(self):
        fact = CustomerStarted(
            "L1", self.done, self.done, extended=True, state_told_on=date(2028, 3, 20)
        )
        open_dues = calendar_of([fact], date(2028, 5, 1))
        assert [due.due_on for due in open_dues] == [date(2028, 8, 28)]

    @pytest.mark.parametrize(("as_of", "number"), [(date(2028, 4, 15), 1), (date(2028, 4, 16), 3)])
    def test_a_missed_45_days_opens_the_longer_clock(self, as_of, number):
        fact = CustomerStarted("L1", self.done, self.done)
        assert len(fact.dues(as_of, RULES)) == number

    def test_a_planned_work_asks_for_both_sides_together_and_starts_the_clock_on_its_day(self):
        fact = CustomerStarted("L1", self.done, date(2028, 2, 1), planned=True)
        assert days(fact) == {
            "Both sides replaced together": self.done,
            "System side replaced": date(2028, 4, 15),
        }
        assert len({due.key for due in fact.dues(date(2028, 2, 1), RULES)}) == 2

    def test_with_the_system_side_done_nothing_is_left(self):
        fact = CustomerStarted(
            "L1", self.done, self.done, system_done_on=date(2028, 4, 15), planned=True
        )
        assert calendar_of([fact], date(2028, 4, 15)) == []

    @pytest.mark.parametrize(
        ("learned", "start"),
        [
            (date(2028, 2, 1), date(2028, 3, 1)),
            (date(2028, 3, 1), date(2028, 3, 1)),
            (date(2028, 3, 2), date(2028, 3, 2)),
            (date(2028, 9, 1), date(2028, 9, 1)),
            (date(2028, 9, 2), None),
        ],
    )
    def test_the_clock_starts_with_the_knowledge_up_to_six_months(self, learned, start):
        fact = CustomerStarted("L1", self.done, learned)
        assert fact.starts_on(RULES) == start
        assert bool(fact.dues(learned, RULES)) is (start is not None)


class TestReplacementWork:
    def test_full(self):
        work = ReplacementWork(
            "W1", "L1", WorkKind.FULL, completed_on=date(2028, 8, 31),
            back_in_service_on=date(2028, 9, 1),
        )  # fmt: skip
        assert days(work) == {
            "Notice before the line returns to service": date(2028, 9, 1),
            "Flushing instructions given": date(2028, 9, 1),
            "Filter with 6 months of cartridges given": date(2028, 9, 1),
            "Follow-up tap sample": date(2029, 2, 28),
        }
        sample = next(due for due in work.dues(AS_OF, RULES) if due.opens_on)
        assert sample.opens_on == date(2028, 11, 30)

    def test_planned_partial_tells_45_days_before(self):
        work = ReplacementWork("W1", "L1", WorkKind.PLANNED_PARTIAL, starts_on=date(2028, 4, 15))
        (due,) = work.dues(AS_OF, RULES)
        assert due.due_on == date(2028, 3, 1)
        assert due.how_computed.startswith("45 days before the start of work on Apr 15, 2028")

    def test_emergency_partial_tells_before_the_return_to_service(self):
        work = ReplacementWork(
            "W1", "L1", WorkKind.EMERGENCY_PARTIAL, starts_on=AS_OF, completed_on=AS_OF
        )
        assert days(work)["Notice before the line returns to service"] == AS_OF

    def test_a_declined_sample_is_done(self):
        work = ReplacementWork(
            "W1", "L1", WorkKind.FULL, completed_on=AS_OF, sample_declined_on=date(2028, 6, 10)
        )
        sample = next(due for due in work.dues(AS_OF, RULES) if due.opens_on)
        assert sample.state(date(2029, 1, 1)) is DueState.DONE

    def test_work_without_days_has_no_clock(self):
        assert ReplacementWork("W1", "L1", WorkKind.FULL).dues(AS_OF, RULES) == []


def test_only_a_cut_asks_for_a_filter():
    uncut = days(Disturbance("W1", "L1", DisturbanceKind.NO_CUT, AS_OF))
    cut = days(Disturbance("W1", "L1", DisturbanceKind.CUT, AS_OF))
    assert set(cut) - set(uncut) == {"Filter with 6 months of cartridges given"}


def test_the_calendar_puts_the_overdue_first_and_leaves_out_what_is_done():
    facts = [
        Discovery("L9", date(2028, 2, 20)),
        Discovery("L1", date(2028, 1, 1), notice_sent_on=date(2028, 1, 20)),
        Inquiry("Q1", "L2", date(2028, 2, 28)),
    ]
    found = [(due.state(AS_OF), due.subject.id) for due in calendar_of(facts, AS_OF)]
    assert found == [
        (DueState.OVERDUE, "L1"),
        (DueState.DUE_SOON, "L9"),
        (DueState.DUE_SOON, "L9"),
        (DueState.DUE_SOON, "who wrote inquiry Q1"),
        (DueState.OPEN, "who wrote inquiry Q1"),
    ]
    everything = calendar_of(facts, AS_OF, with_done=True)
    assert everything[-1].state(AS_OF) is DueState.DONE


def test_a_rule_is_asked_as_it_stood_when_the_clock_started():
    rules = RULES.with_overrides(
        [override("NOTICE_AFTER_DISCOVERY_DAYS", 15, "days", effective_from=date(2028, 7, 1))]
    )
    notice = "Notice to the persons served"
    assert days(Discovery("L1", date(2028, 6, 30)), rules=rules)[notice] == date(2028, 7, 30)
    assert days(Discovery("L1", date(2028, 7, 1)), rules=rules)[notice] == date(2028, 7, 16)


def test_a_unit_no_clock_can_run_in_is_a_sentence():
    rules = RULES.with_overrides([override("NOTICE_AFTER_DISCOVERY_DAYS", 2, "fortnights")])
    with pytest.raises(ValueError, match="fortnights"):
        days(Discovery("L1", AS_OF), rules=rules)


def test_every_due_says_its_rule_and_how_it_was_computed():
    facts = [
        Discovery("L1", AS_OF), Inquiry("Q1", "L1", AS_OF, inspected_on=AS_OF),
        OwnerChange("L1", AS_OF), SampleResult("S1", "A1", AS_OF),
        ReplacementWork("W1", "L1", WorkKind.FULL, completed_on=AS_OF),
    ]  # fmt: skip
    found = calendar_of(facts, AS_OF)
    assert len({due.key for due in found}) == len(found)
    for due in found:
        assert due.citation in due.how_computed
        assert day_told(AS_OF) in due.how_computed
        assert due.mark


def test_records_are_kept_twelve_years():
    assert keep_until(date(2028, 2, 29)) == date(2040, 2, 29)
    assert keep_until(date(2028, 2, 29) + timedelta(days=1)) == date(2040, 3, 1)


def test_what_one_duty_asks_for_on_one_day_is_one_group_and_one_event():
    day, other, yearly = date(2031, 10, 8), date(2031, 10, 9), "NOTICE_REPEAT_MONTHS"
    houses = [Subject(SubjectKind.ADDRESS, f"A{n}") for n in range(3)]
    letters = [Due("Yearly notice", house, day, yearly, "-") for house in houses]
    alone = Due("Yearly notice", houses[0], other, yearly, "-")
    sample = Due("Follow-up tap sample", houses[0], day, "FOLLOW_UP_SAMPLE_TO_MONTHS", "-")
    groups = grouped([letters[0], sample, *letters[1:], alone])
    assert [(group.first.what, group.number) for group in groups] == [
        ("Yearly notice", 3), ("Follow-up tap sample", 1), ("Yearly notice", 1),
    ]  # fmt: skip
    assert groups[2].key == alone.key  # a single one keeps its event when its day is corrected
    events = Calendar.from_ical(to_ics([*letters, sample, alone], day)).walk("VEVENT")
    assert [str(event["summary"]) for event in events] == [
        "3 × Yearly notice",
        "Follow-up tap sample (address A0)",
        "Yearly notice (address A0)",
    ]
    assert len({str(event["uid"]) for event in events}) == 3
