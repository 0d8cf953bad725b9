"""What a typed value may be: every kind read, every slip told, nothing guessed."""

from datetime import date
from fractions import Fraction

import pytest

from program.domain.regulation import RULES
from services_inventory.domain.allowed import Allowed, Kind, NotAllowed, typed, written

ROWS = Allowed(kind=Kind.ROWS, columns=2, source="constructed")


def allowed(kind: Kind, **more) -> Allowed:
    return Allowed(kind=kind, source="constructed", **more)


@pytest.mark.parametrize(
    ("given", "text", "value"),
    [
        (allowed(Kind.DAY), "2032-12-31", date(2032, 12, 31)),
        (allowed(Kind.MONTH_DAY), "02-28", "02-28"),
        (allowed(Kind.SHARE), "1/8", Fraction(1, 8)),
        (allowed(Kind.SHARE), "12.5 %", Fraction(1, 8)),
        (allowed(Kind.SHARE), "0.125", Fraction(1, 8)),
        (allowed(Kind.WHOLE), "1,200", 1200),
        (allowed(Kind.MEASURE), "2.5", Fraction(5, 2)),
        (allowed(Kind.YES_NO), "No", False),
        (allowed(Kind.CHOICES, one_of=("A", "B")), "B A", ("A", "B")),
        (allowed(Kind.CHOICES, one_of=("A", "B")), "", ()),
        (ROWS, "2,000 322\n3000, 341", ((2000, 322), (3000, 341))),
        (allowed(Kind.DAY, may_be_none=True), "None", None),
    ],
)
def test_a_value_is_read_as_it_is_meant_and_comes_back_from_the_record(given, text, value):
    assert given.read(text) == value
    assert given.take(written(value)) == value
    assert value is None or given.read(typed(value)) == value


@pytest.mark.parametrize(
    ("kind", "texts"),
    [
        (Kind.DAY, ("none", "20321231", "2032-W01-1", "32-12-31", "2031-02-29")),
        (Kind.MONTH_DAY, ("13-45", "02-29", "1-30")),
        (Kind.SHARE, ("1/0", "1e999999999", "a tenth", "-1/8")),
        (Kind.WHOLE, ("1,5", "4.0", "9" * 5_000, "٣")),
        (Kind.MEASURE, ("2 in", "20 %")),
        (Kind.YES_NO, ("maybe",)),
        (Kind.CHOICE, ("L",)),
        (Kind.CHOICES, ("AFIDAVIT",)),
        (Kind.ROWS, ("2000,322", "3000 341\n2000 322", "2000 322 1", "")),
    ],
)
def test_what_cannot_be_read_is_told_with_what_can_be_written(kind, texts):
    given = allowed(kind, one_of=("A",), columns=2)
    for text in texts:
        with pytest.raises(NotAllowed, match="can't be read") as told:
            given.read(text)
        assert len(str(told.value)) < 300


@pytest.mark.parametrize("recorded", [None, "x", 1.5, True, [], {"a": 1}, [["a", 1]], 10**30])
@pytest.mark.parametrize("kind", Kind)
def test_what_stands_in_the_record_is_of_the_kind_or_told(kind, recorded):
    given = allowed(kind, one_of=("A",), columns=2, pattern="[A-Z]{2}", most=None)
    try:
        value = given.take(recorded)
    except NotAllowed:
        return
    assert given.take(written(value)) == value


def test_a_range_has_both_its_ends_in_it():
    days = allowed(Kind.WHOLE, least=1, most=366, unit="days")
    assert (days.read("1"), days.read("366")) == (1, 366)
    for text in ("0", "367"):
        with pytest.raises(NotAllowed, match=r"“\d+” can't be right. .* from 1 to 366"):
            days.read(text)


@pytest.mark.parametrize(
    ("safer", "value", "looser"), [("less", 30, False), ("less", 31, True), ("more", 29, True)]
)
def test_asking_for_less_is_seen_by_the_side_that_is_safer(safer, value, looser):
    assert allowed(Kind.WHOLE, safer=safer).looser(value, 30) is looser


def test_every_settable_value_has_a_range_with_its_source_and_those_without_a_number_have_none():
    rows = [row for rule_id in RULES.ids() for row in RULES.all(rule_id)]
    settable = {row.id for row in rows if row.allowed}
    assert {row.id for row in rows if row.unit == "rule"} & settable == set()
    assert {row.id for row in rows if row.unit != "rule"} - settable == {
        "LCRI_PUBLISHED", "LCRI_EFFECTIVE", "LEAD_BAN_DATE_FEDERAL", "RETURN_TO_SERVICE_NEEDS",
        "UNKNOWNS_IDENTIFIED_BY",
    }  # fmt: skip
    bounded = {Kind.DAY, Kind.SHARE, Kind.WHOLE, Kind.MEASURE}
    for row in rows:
        if row.allowed and row.allowed.kind in bounded:
            assert row.allowed.least is not None and row.allowed.most is not None, row.id
