"""A laboratory's table, read: headings, units, "less than", days; cases constructed."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.laboratory import LaboratoryRefused, doubts, results_in

AS_OF = date(2031, 1, 15)
WIDE = ["Location ID", "Date Collected", "Lead (mg/L)", "Copper (mg/L)"]
LONG = ["Site ID", "Sample Date", "Analyte", "Result", "Units"]


def read(header, *rows, unit="", purpose="COMPLIANCE"):
    numbered = list(enumerate(rows, 2))
    return results_in(header, numbered, unit=unit, purpose=purpose, as_of=AS_OF)


def amounts(reading):
    return [(one.metal, one.micrograms, one.below) for one in reading.results]


def one_fault(header, *cells, **said):
    reading = read(header, list(cells), **said)
    assert not reading.results
    (fault,) = reading.faults
    return str(fault)


def test_a_row_for_a_bottle_and_a_row_for_an_analyte_say_the_same():
    wide = read(WIDE, ["12", "05/31/2030", "0.012", "0.35"])
    long = read(
        LONG, ["12", date(2030, 5, 31), "Lead, total", "12", "ug/L"],
        ["12", "2030-05-31", "Copper", 0.35, "mg/L"],
    )  # fmt: skip
    assert amounts(wide) == amounts(long) == [("LEAD", 12, False), ("COPPER", 350, False)]
    assert {one.sampled_on for one in wide.results + long.results} == {date(2030, 5, 31)}


@pytest.mark.parametrize(
    ("written", "micrograms", "below"),
    [
        ("0.0104", Fraction("10.4"), False),
        (0.015, 15, False),
        ("<0.001", 1, True),
        ("< 1 ppb", 1, True),
        ("ND", 0, True),
        ("1,200 ug/L", 1200, False),
        (".5 µg/L", Fraction(1, 2), False),
        (1e-05, Fraction(1, 100), False),
        ("0", 0, False),
    ],
)
def test_what_a_result_may_look_like(written, micrograms, below):
    header = ["Location ID", "Date Collected", "Lead"]
    (found,) = read(header, ["12", "2030-05-31", written], unit="mg/L").results
    assert (found.micrograms, found.below) == (micrograms, below)


@given(st.decimals("0", "40", places=4), st.sampled_from(["mg/L", "ppm", "MG/L"]))
def test_no_unit_changes_an_amount(milligrams, unit):
    lead = read(LONG, ["12", "2030-05-31", "Lead", f"{milligrams:f}", unit]).results
    same = read(LONG, ["12", "2030-05-31", "Pb", f"{milligrams * 1000:f}", "ppb"]).results
    assert lead[0].micrograms == same[0].micrograms == Fraction(milligrams) * 1000


@given(st.lists(st.text(max_size=12) | st.none() | st.floats() | st.integers(), max_size=6))
def test_whatever_stands_in_a_row_it_is_a_result_or_named(cells):
    reading = read(LONG, cells)
    assert len(reading.results) + len(reading.faults) + reading.other_analytes > 0


@pytest.mark.parametrize("written", ["0,012", "-1", "12 mg/kg", "#N/A", "twelve", "5-6", "=A1"])
def test_what_is_no_result_is_named_by_its_row(written):
    assert one_fault(WIDE[:3], "12", "2030-05-31", written).startswith(
        "Row 2, column 'Lead (mg/L)'"
    )


def test_a_result_without_a_unit_is_not_guessed():
    header = ["Location ID", "Date Collected", "Lead"]
    assert "No unit is named" in one_fault(header, "12", "2030-05-31", "12")
    reading = read(header, ["12", "2030-05-31", "12"], unit="ug/L")
    assert amounts(reading) == [("LEAD", 12, False)]


def test_units_that_contradict_each_other_are_refused():
    header = ["Location ID", "Date Collected", "Lead (mg/L)", "Unit"]
    assert "different units" in one_fault(header, "12", "2030-05-31", "12", "ug/L")
    assert "different units" in one_fault(WIDE[:3], "12", "2030-05-31", "12 ug/L")


def test_a_slip_of_the_unit_is_named_or_asked_about():
    assert "more than any tap holds" in one_fault(WIDE[:3], "12", "2030-05-31", "60")
    header = ["Location ID", "Date Collected", "Lead (ug/L)"]
    low = read(header, ["1", "2030-05-31", "0.004"], ["2", "2030-05-31", "0.012"])
    assert "thousand times" in doubts(low.results)[0]
    high = read(WIDE[:3], ["1", "2030-05-31", "4"], ["2", "2030-05-31", "12"])
    assert "thousandth" in doubts(high.results)[0]
    assert not doubts(read(header, ["1", "2030-05-31", "4"]).results)
    assert not doubts(read(header, ["1", "2030-05-31", "<1"]).results)


def test_the_fifth_liter_is_told_from_the_first():
    header = [*WIDE[:3], "Draw"]
    reading = read(
        header, ["1", "2030-05-31", "0.001", "1st"], ["1", "2030-05-31", "0.004", "Fifth draw"]
    )
    assert [one.liter for one in reading.results] == [1, 5]
    assert "neither the first nor the fifth" in one_fault(header, "1", "2030-05-31", "1", "3rd")


@pytest.mark.parametrize(
    ("day", "words"),
    [("", "missing"), ("31/05/30", "two digits"), ("2031-01-16", "lies after"), ("soon", "no")],
)
def test_a_day_that_can_not_be(day, words):
    assert words in one_fault(WIDE[:3], "12", day, "0.001")


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (["Date Collected", "Lead (ppb)"], "where a sample was taken"),
        (["Location ID", "Lead (ppb)"], "which day"),
        (["Location ID", "Date Collected", "pH"], "No column holds results"),
        (["Location ID", "Site ID", "Date Collected", "Lead (ppb)"], "both look like"),
    ],
)
def test_a_file_that_lacks_a_column_is_refused(header, words):
    with pytest.raises(LaboratoryRefused, match=words):
        read(header, ["1"] * len(header))


def test_what_nobody_reads_is_named():
    reading = read([*LONG, "Analyst"], ["1", "2030-05-31", "Iron", "3", "mg/L", "A."],
                   ["1", "2030-05-31", "Lead", "3", "ug/L", "A."])  # fmt: skip
    assert (reading.left_out, reading.other_analytes, len(reading.results)) == (["Analyst"], 1, 1)
