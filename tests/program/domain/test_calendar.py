"""Program years, months, business days and the days of the rule; cases are constructed."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.calendar import (
    annual_submission_due,
    business_days_after,
    day_of_year,
    is_business_day,
    last_finished_year,
    milestones,
    notice_certification_due,
    plan_update_due,
    program_year,
    program_year_bounds,
    rate_outreach_due,
)
from program.domain.regulation import RULES
from services_inventory.domain.regulation import Value


def override(rule_id, value, unit="", jurisdiction="STATE", **period):
    return Value(
        id=rule_id, citation="State rule", source="State rule", mark="seen",
        read_on=date(2026, 1, 1), value=value, unit=unit, summary="The State's own.",
        jurisdiction=jurisdiction, author="A. Clerk", reason="State rule", **period,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("day", "year"),
    [
        (date(2024, 10, 16), None),
        (date(2027, 10, 31), None),
        (date(2027, 11, 1), 1),
        (date(2028, 12, 31), 1),
        (date(2029, 1, 1), 2),
        (date(2030, 12, 31), 3),
        (date(2031, 1, 1), 4),
        (date(2037, 12, 31), 10),
        (date(2038, 1, 1), 11),
    ],
)
def test_program_year_on_both_sides_of_every_seam(day, year):
    assert program_year(day) == year


def test_bounds_of_the_first_the_second_and_the_tenth_year():
    assert program_year_bounds(1) == (date(2027, 11, 1), date(2028, 12, 31))
    assert program_year_bounds(2) == (date(2029, 1, 1), date(2029, 12, 31))
    assert program_year_bounds(10) == (date(2037, 1, 1), date(2037, 12, 31))


def test_the_ordinary_deadline_is_the_end_of_the_last_program_year():
    years = RULES.latest("PROGRAM_YEARS").value
    assert program_year_bounds(years)[1] == RULES.latest("REPLACEMENT_DEADLINE").value


@given(st.dates(date(2027, 11, 1), date(2300, 1, 1)))
def test_every_day_lies_within_the_bounds_of_its_year(day):
    first, last = program_year_bounds(program_year(day))
    assert first <= day <= last
    assert program_year(last + timedelta(days=1)) == program_year(day) + 1


@pytest.mark.parametrize("number", [0, -1, 20255])
def test_a_year_that_cannot_be_is_a_sentence(number):
    with pytest.raises(ValueError, match="program year|calendar"):
        program_year_bounds(number)


@pytest.mark.parametrize(
    ("as_of", "over"),
    [
        (date(2027, 10, 31), 0),
        (date(2028, 12, 30), 0),
        (date(2028, 12, 31), 1),
        (date(2029, 1, 1), 1),
        (date(2029, 12, 31), 2),
    ],
)
def test_a_year_is_over_at_the_end_of_its_last_day(as_of, over):
    assert last_finished_year(as_of) == over


def test_a_states_own_compliance_date_moves_the_first_year():
    rules = RULES.with_overrides(
        [
            override("COMPLIANCE_DATE", date(2026, 7, 1)),
            override("PROGRAM_YEAR_1_END", date(2027, 6, 30)),
        ]
    )
    assert program_year(date(2026, 6, 30), rules) is None
    assert program_year(date(2026, 7, 1), rules) == 1
    assert program_year(date(2027, 6, 30), rules) == 1
    assert program_year(date(2027, 7, 1), rules) == 2
    assert program_year_bounds(2, rules) == (date(2027, 7, 1), date(2028, 6, 30))
    assert annual_submission_due(1, rules) == date(2028, 1, 30)


@pytest.mark.parametrize(
    ("day", "count", "expected"),
    [
        (date(2028, 3, 1), 3, date(2028, 3, 6)),  # Wednesday; a weekend between
        (date(2028, 3, 3), 3, date(2028, 3, 8)),  # Friday
        (date(2028, 3, 4), 3, date(2028, 3, 8)),  # Saturday
        (date(2028, 5, 26), 3, date(2028, 6, 1)),  # Friday before Memorial Day
        (date(2026, 7, 1), 3, date(2026, 7, 7)),  # 4 July on a Saturday, kept on Friday the 3rd
        (date(2027, 12, 30), 1, date(2028, 1, 3)),  # New Year kept on Friday 31 December
        (date(2028, 3, 4), 0, date(2028, 3, 6)),
        (date(2028, 3, 6), 0, date(2028, 3, 6)),
    ],
)
def test_business_days_skip_weekends_and_federal_holidays(day, count, expected):
    assert business_days_after(day, count) == expected


def test_business_days_do_not_run_backwards():
    with pytest.raises(ValueError, match="forwards"):
        business_days_after(date(2028, 3, 1), -1)


def test_a_state_may_name_its_own_holidays():
    illinois = RULES.with_overrides([override("HOLIDAY_CALENDAR", "US-IL")])
    lincoln = date(2029, 2, 12)
    assert is_business_day(lincoln)
    assert not is_business_day(lincoln, illinois)
    nowhere = RULES.with_overrides([override("HOLIDAY_CALENDAR", "US-ZZ")])
    with pytest.raises(ValueError, match="US-ZZ"):
        is_business_day(lincoln, nowhere)


def test_reporting_days():
    assert annual_submission_due(1) == date(2029, 1, 30)
    assert annual_submission_due(1) == RULES.latest("FIRST_ANNUAL_UPDATE_DUE").value
    assert plan_update_due(2) == date(2030, 1, 30)
    assert notice_certification_due(2024) == date(2025, 7, 1)
    assert rate_outreach_due(3) == date(2031, 12, 31)
    with pytest.raises(ValueError, match="13-01"):
        day_of_year("13-01", 2030)


def test_milestones_are_the_rules_days_in_order():
    days = [(row.rule_id, row.due_on) for row in milestones()]
    assert days == [
        ("INITIAL_INVENTORY_DUE", date(2024, 10, 16)),
        ("INITIAL_NOTICE_DUE", date(2024, 11, 15)),
        ("BASELINE_INVENTORY_DUE", date(2027, 11, 1)),
        ("REPLACEMENT_PLAN_DUE", date(2027, 11, 1)),
        ("SITE_SAMPLE_PLAN_DUE", date(2028, 1, 1)),
    ]
