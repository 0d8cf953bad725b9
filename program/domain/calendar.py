"""The program's calendar: program years, business days, months and the days of the rule.

Program year 1 runs from the compliance date to the end of the next calendar year, every later
one for twelve months (40 CFR 141.84(d)(5)). All days come from the rule's values, so that a
State's own day, laid over them, moves everything that hangs on it.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from program.domain.regulation import RULES
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import Rules

_SATURDAY = 5


def program_year(day: date, rules: Rules = RULES) -> int | None:
    """Return the number of the program year that holds the day, None before the first.

    Examples
    --------
    >>> program_year(date(2027, 10, 31)), program_year(date(2027, 11, 1))
    (None, 1)
    >>> program_year(date(2028, 12, 31)), program_year(date(2029, 1, 1))
    (1, 2)
    """
    if day < rules.latest("COMPLIANCE_DATE").value:
        return None
    number = max(1, day.year - rules.latest("PROGRAM_YEAR_1_END").value.year + 1)
    return number if day <= program_year_bounds(number, rules)[1] else number + 1


def program_year_bounds(number: int, rules: Rules = RULES) -> tuple[date, date]:
    """Return the first and the last day of a program year.

    Raises
    ------
    ValueError: the number is less than 1, or so great that the calendar ends before it.
    """
    if number < 1:
        raise ValueError(f"There is no program year {number}; the first is program year 1.")
    first_end = rules.latest("PROGRAM_YEAR_1_END").value
    last = add_months(first_end, 12 * (number - 1))
    if number == 1:
        return rules.latest("COMPLIANCE_DATE").value, last
    return add_months(first_end, 12 * (number - 2)) + timedelta(days=1), last


def last_finished_year(as_of: date, rules: Rules = RULES) -> int:
    """Return the last program year that is over at the end of a day, 0 when none is."""
    running = program_year(as_of, rules)
    if running is None:
        return 0
    return running if as_of == program_year_bounds(running, rules)[1] else running - 1


def is_business_day(day: date, rules: Rules = RULES) -> bool:
    """Tell whether the day is neither on a weekend nor a legal holiday, observed days included."""
    calendar = rules.value("HOLIDAY_CALENDAR", day)
    return day.weekday() < _SATURDAY and day not in _holidays(calendar, day.year)


def business_days_after(day: date, count: int, rules: Rules = RULES) -> date:
    """Return the business day that many business days after a day; the day itself is not counted.

    A count of 0 gives the first business day on or after the day.

    Raises
    ------
    ValueError: the count is negative.
    """
    if count < 0:
        raise ValueError(f"Business days are counted forwards, not by {count}.")
    found = day
    while count and (found := found + timedelta(days=1)):
        count -= is_business_day(found, rules)
    while not is_business_day(found, rules):
        found += timedelta(days=1)
    return found


@cache
def _holidays(calendar: str, year: int) -> frozenset[date]:
    import holidays

    country, _, subdivision = calendar.partition("-")
    try:
        days = holidays.country_holidays(country, subdiv=subdivision or None, years=year)
    except NotImplementedError as error:
        raise ValueError(
            f"There is no holiday calendar {calendar!r}; use US or a State such as US-MI."
        ) from error
    return frozenset(days)


def annual_submission_due(number: int, rules: Rules = RULES) -> date:
    """Day by which the inventory update and replacement report of a program year are sent."""
    return _day_after_year("ANNUAL_UPDATE_DAY", number, rules)


def plan_update_due(number: int, rules: Rules = RULES) -> date:
    """Day by which the plan is updated or certified unchanged after a program year."""
    return _day_after_year("PLAN_UPDATE_DAY", number, rules)


def rate_outreach_due(number: int, rules: Rules = RULES) -> date:
    """Day by which the extra outreach after a failed program year is done."""
    return _day_after_year("RATE_OUTREACH_LAST_DAY", number, rules)


def _day_after_year(rule_id: str, number: int, rules: Rules) -> date:
    last = program_year_bounds(number, rules)[1]
    return day_of_year(rules.value(rule_id, last), last.year + 1)


def notice_certification_due(calendar_year: int, rules: Rules = RULES) -> date:
    """Day by which the notices delivered in a calendar year are certified."""
    in_force = rules.value("NOTICE_CERTIFICATION_DAY", date(calendar_year, 12, 31))
    return day_of_year(in_force, calendar_year + 1)


def day_of_year(month_day: str, year: int) -> date:
    """The day that a month-day value such as 01-30 names in a year.

    Raises
    ------
    ValueError: the text is not a month and a day of that year.
    """
    try:
        return date.fromisoformat(f"{year:04d}-{month_day}")
    except ValueError as error:
        raise ValueError(f"{month_day!r} is not a month and day, such as 01-30.") from error


@dataclass(frozen=True)
class Milestone:
    """A day that the rule names once."""

    rule_id: str
    what: str
    due_on: date


_MILESTONES = (
    ("INITIAL_INVENTORY_DUE", "Initial inventory to the State and the public"),
    ("INITIAL_NOTICE_DUE", "First notices to lead, GRR and unknown addresses"),
    ("BASELINE_INVENTORY_DUE", "Baseline inventory to the State and the public"),
    ("REPLACEMENT_PLAN_DUE", "Service line replacement plan to the State"),
    ("SITE_SAMPLE_PLAN_DUE", "Tap sampling site plan to the State"),
)


def milestones(rules: Rules = RULES) -> tuple[Milestone, ...]:
    """The days that the rule names once for every system, in order of date."""
    rows = (Milestone(rule_id, what, rules.latest(rule_id).value) for rule_id, what in _MILESTONES)
    return tuple(sorted(rows, key=lambda row: row.due_on))
