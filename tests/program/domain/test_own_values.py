"""When values of one's own hold: newer ends older, endings, taking back, and taking that back."""

from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from program.domain.own_values import Act, OwnRow, periods

FIRST = date(2028, 1, 1)


def row(
    number: int, act: Act = Act.SET, about: int | None = None, years: int = 0, **more
) -> OwnRow:
    said = {"value_id": "REQUIRED_RATE", "jurisdiction": "STATE"} | more
    day = date(FIRST.year + years, 1, 1)
    return OwnRow(id=number, act=act, effective_from=day, about=about, **said)


def holds(*rows: OwnRow, years: int) -> list[int]:
    day = date(FIRST.year + years, 1, 1)
    return [number for number, period in periods(rows).items() if period.holds_on(day)]


def test_a_newer_row_ends_the_older_on_its_first_day():
    rows = row(1), row(2, years=2)
    assert periods(rows)[1].until == date(2030, 1, 1)
    assert (holds(*rows, years=1), holds(*rows, years=2)) == ([1], [2])


def test_a_newer_row_of_the_same_day_takes_the_place_of_the_older():
    assert periods([row(1), row(2)])[1].is_empty
    assert holds(row(1), row(2), years=0) == [2]


def test_a_row_recorded_later_that_begins_earlier_holds_until_the_one_that_was_there():
    rows = row(1, years=2), row(2)
    assert (holds(*rows, years=1), holds(*rows, years=3)) == ([2], [1])


def test_rows_of_another_jurisdiction_or_value_end_nothing():
    others = row(2, years=1, jurisdiction="UTILITY"), row(3, years=1, value_id="RECORD_YEARS")
    assert periods([row(1), *others])[1].until is None


def test_an_ended_value_holds_no_longer_and_nothing_before_it_comes_back():
    rows = row(1), row(2, years=1), row(3, Act.END, 2, years=2)
    assert (holds(*rows, years=1), holds(*rows, years=2)) == ([2], [])


def test_what_is_taken_back_never_held_and_the_older_holds_again():
    rows = row(1), row(2, years=1), row(3, Act.WITHDRAW, 2, years=1)
    assert holds(*rows, years=1) == [1] and periods(rows)[1].until is None
    assert periods(rows)[2].withdrawn_by.id == 3


def test_an_ending_and_a_taking_back_can_be_taken_back():
    ended = row(1), row(2, Act.END, 1, years=1), row(3, Act.WITHDRAW, 2, years=1)
    assert holds(*ended, years=2) == [1]
    back = row(1), row(2, Act.WITHDRAW, 1), row(3, Act.WITHDRAW, 2)
    assert holds(*back, years=0) == [1]


ACTS = st.lists(st.tuples(st.sampled_from(Act), st.integers(0, 30), st.integers(0, 5)), max_size=12)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(ACTS, st.integers(0, 8 * 365))
def test_of_one_jurisdiction_one_value_holds_at_most_on_any_day(acts, days):
    rows = []
    for number, (act, about, years) in enumerate(acts, 1):
        earlier = about % number
        whose = None if act is Act.SET or not earlier else earlier
        rows.append(row(number, act if whose else Act.SET, whose, years))
    day = FIRST + timedelta(days=days)
    assert sum(period.holds_on(day) for period in periods(rows).values()) <= 1
