"""The thresholds of a pull log: as their table says, and a utility's own within its bounds."""

import csv

import pytest

from replacements.domain.pull_logs.log import PullLogError
from replacements.domain.pull_logs.rules import EventRules, event_rules, shipped_rules
from services_inventory.domain.reference import ROOT

NUMBERS = ("value", "low", "high")


def table() -> list[dict]:
    file = ROOT / "replacements" / "reference" / "event_rules.csv"
    return list(csv.DictReader(file.open(encoding="utf-8")))


def test_every_threshold_is_read_as_the_table_has_it():
    read = shipped_rules.__wrapped__()  # afresh, whatever was read before
    assert list(read.thresholds) == [row["key"] for row in table()]
    for row in table():
        numbers = {name: float(row[name]) for name in NUMBERS}
        assert vars(read.thresholds[row["key"]]) == {**row, **numbers}
        assert read[row["key"]] == numbers["value"]
        assert read.source_of(row["rule"]).endswith("]")


def test_a_rule_has_the_source_of_its_first_threshold_and_one_without_has_none():
    first = table()[0]
    assert shipped_rules().source_of(first["rule"]) == f"{first['source']} [{first['mark']}]"
    assert shipped_rules().source_of("NO SUCH") == ""
    assert EventRules({}).source_of(first["rule"]) == ""


@pytest.mark.parametrize("row", table(), ids=lambda row: row["key"])
def test_both_bounds_may_be_set_and_nothing_beyond(row):
    key, low, high = row["key"], float(row["low"]), float(row["high"])
    for bound in (low, high):
        assert event_rules({key: bound})[key] == bound
    for beyond in (low - 0.001, high + 0.001):
        with pytest.raises(PullLogError) as refused:
            event_rules({key: beyond})
        assert str(refused.value) == (
            f"{key} may be set from {low:g} to {high:g} {row['unit']}, not to {beyond:g}."
        )


def test_a_threshold_set_says_by_whom_and_leaves_the_rest():
    first, *rest = table()
    key, value = first["key"], float(first["high"])
    for by, source in (("Quillwater", "set by Quillwater"), ("", "set by the utility")):
        made = event_rules({key: value}, by)
        expected = vars(shipped_rules().thresholds[key]) | {"value": value, "source": source}
        assert vars(made.thresholds[key]) == expected
        assert [made[row["key"]] for row in rest] == [float(row["value"]) for row in rest]
    assert event_rules({key: value}).thresholds[key].source == "set by the utility"
    assert event_rules().thresholds == event_rules({}).thresholds == shipped_rules().thresholds


def test_a_key_that_is_none_is_told_with_those_there_are():
    names = ", ".join(row["key"] for row in table())
    with pytest.raises(PullLogError) as refused:
        event_rules({"speed": 1})
    assert str(refused.value) == f"There is no threshold 'speed'. There are {names}."
