"""Months on; cases are constructed."""

from datetime import date

import pytest

from services_inventory.domain.days import add_months, kept_day_told


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2028, 8, 31), 6, date(2029, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2028, 12, 15), 1, date(2029, 1, 15)),
        (date(2028, 3, 31), -1, date(2028, 2, 29)),
        (date(2028, 5, 5), 0, date(2028, 5, 5)),
    ],
)
def test_months_keep_the_day_or_the_last_of_the_month(day, months, expected):
    assert add_months(day, months) == expected


def test_months_out_of_the_calendar_are_a_sentence():
    with pytest.raises(ValueError, match="outside the calendar"):
        add_months(date(9999, 12, 1), 1)


def test_a_day_that_is_kept_as_text_is_told_as_pages_write_it():
    assert kept_day_told("2031-01-05") == "Jan 5, 2031"
    with pytest.raises(ValueError, match="2031-02-30|day is out of range"):
        kept_day_told("2031-02-30")
