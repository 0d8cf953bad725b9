"""A paragraph read against the values. The paragraphs are written here in our own words."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.reading import Finding, quantities, same_place, touched
from program.domain.regulation import RULES

VALUES = [RULES.all(rule_id)[-1] for rule_id in RULES.ids()]


def read(text, citation=""):
    return {one.value.id: one for one in touched(text, citation, VALUES)}


def test_a_paragraph_confirms_one_value_and_contradicts_another_of_the_same_place():
    found = read("Respond with an offer to inspect within 30 days.", "40 CFR 141.84(b)(4)")
    assert found["DISPUTE_OFFER_DAYS"].finding is Finding.SAME
    assert found["DISPUTE_RESPONSE_DAYS"].finding is Finding.OTHER
    assert found["DISPUTE_RESPONSE_DAYS"].other == "30"


def test_a_paragraph_without_a_citation_is_found_by_its_words_and_amounts():
    text = "The filter plan goes to the State sixty (60) days after the monitoring period ends."
    found = read(text + " Filters are made available after repeated exceedances.")
    assert found["FILTER_PLAN_DAYS"].finding is Finding.SAME
    assert not found["FILTER_PLAN_DAYS"].cited
    assert not read("The quick brown fox.")


def test_what_has_no_amount_of_its_unit_is_left_to_the_reader():
    found = read("Tell them.", "40 CFR 141.84(b)(4)")
    assert {one.finding for one in found.values()} == {Finding.OPEN}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a 45-day period", [("days", 45)]),
        ("twenty-four hours", [("hours", 24)]),
        ("Ninety percent, or 10 %", [("percent", 90), ("percent", 10)]),
        ("1,500 persons", [("persons", 1500)]),
        ("by January 30", [("month-day", "01-30")]),
        ("after November 1, 2027", [("date", date(2027, 11, 1))]),
        ("February 31", []),
        ("daystar 7 daysailing", []),
        ("15 ppb; 1.3 mg/L", [("ug/L", 15), ("ug/L", 1300)]),
    ],
)
def test_amounts(text, expected):
    assert quantities(text) == expected


@given(st.text(max_size=400), st.text(max_size=40))
def test_any_text_can_be_read(text, citation):
    assert len(touched(text, citation, VALUES)) <= 12


@given(st.integers(1, 9999), st.sampled_from(["days", "hours", "months", "years"]))
def test_an_amount_is_found_as_it_is_written(number, unit):
    assert quantities(f"not later than {number} {unit} after") == [(unit, Fraction(number))]


def test_places():
    assert same_place("141.84(b)(4)", "40 CFR 141.84(b)")
    assert not same_place("141.84(b)(4)", "141.85(b)(4)")
    assert not same_place("", "141.85(b)(4)")
