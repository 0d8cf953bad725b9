"""Set-up facts belong to the tool set; what is shipped is common practice, no source."""

import pytest

from replacements.domain.findings import Level
from replacements.domain.pipes import pipe
from replacements.domain.tool_strings import (
    Answer,
    Fact,
    Kind,
    SetUp,
    SizeGroup,
    assembly_checks,
    checks_for,
    refuse_set_up,
)
from replacements.domain.tool_strings.setup import NO_SET, BadSetUp, bounds_said, shipped_groups

from .test_tool_strings_checks import found_in
from .tools import OLD, good_string, judge_assembly

OWN = SetUp(
    name="Blue case",
    instructions="Instructions of the set, 3rd edition, page 4",
    facts={
        "CABLE_TAIL": Fact(0.375, 0.5),
        "NUT_GAP": Fact(high=0.02, words="a feeler of 0.02 in. does not enter"),
        "ANTI_SEIZE": Fact(words="a thin film brushed on the backs of the jaws"),
        "RETAINING_NUT_TORQUE": Fact(60, 80),
    },
    groups=(SizeGroup((0.5,), (0.75,)), SizeGroup((0.625, 0.75), (0.75, 1.0))),
)


def rows(setup=NO_SET):
    return {check.check: check for check in checks_for("PE", setup)}


def judged(check, value, setup):
    found = judge_assembly([Answer(check, measured=value, answered_by="R. Vale")], setup=setup)
    return [f for f in found if f.rule == f"ASSEMBLY_{check}"]


def test_every_row_says_what_it_shows():
    """The functional reason, such as "Jaws seated", not a maker's card."""
    shown = {check.check: check.shows for check in assembly_checks()}
    assert all(shown.values()) and len(set(shown.values())) == len(shown)
    assert shown["CABLE_TAIL"] == "Jaws seated"
    assert shown["NUT_GAP"] == "Nut closed metal to metal"


def test_what_a_set_may_set_is_shipped_as_common_practice():
    """Common practice, no source: 1/8 to 1/4 in. of tail, no gap, pea-size drop, two wrenches."""
    of_set = [check for check in assembly_checks() if check.of_set]
    assert {c.check for c in of_set} >= {
        *("CABLE_TAIL", "NUT_GAP", "ANTI_SEIZE", "SIZE_GROUP", "PULLING_END"),
    }
    shipped = rows()
    assert (shipped["CABLE_TAIL"].low, shipped["CABLE_TAIL"].high) == (0.125, 0.25)
    for check in ("CABLE_TAIL", "NUT_GAP", "ANTI_SEIZE", "SIZE_GROUP", "PULLING_END", "WRENCHES"):
        assert shipped[check].source.startswith("common practice, no source")
    assert [group.old_in for group in shipped_groups()] == [(0.5,), (0.625, 0.75, 1.0)]


def test_the_makers_instructions_go_before_common_practice():
    tail = rows(OWN)["CABLE_TAIL"]
    assert (tail.low, tail.high, tail.criterion) == (0.375, 0.5, "3/8 in. to 1/2 in.")
    assert tail.cited == "Instructions of the set, 3rd edition, page 4 (tool set Blue case)"
    assert judged("CABLE_TAIL", 0.4, OWN) == []
    assert judged("CABLE_TAIL", 0.25, OWN)[0].level is Level.STOP
    assert judged("CABLE_TAIL", 0.25, SetUp()) == []
    assert judged("CABLE_TAIL", 0.4, SetUp())[0].level is Level.STOP
    assert judged("RETAINING_NUT_TORQUE", 90, OWN) and not judged(
        "RETAINING_NUT_TORQUE", 90, SetUp()
    )
    assert rows(OWN)["ANTI_SEIZE"].criterion == "a thin film brushed on the backs of the jaws"
    assert rows(OWN)["NUT_GAP"].criterion == "at most 0.02 in.; a feeler of 0.02 in. does not enter"
    assert "1/2 in. old pipe to 3/4 in. new pipe" in rows(OWN)["SIZE_GROUP"].criterion


def test_what_a_set_says_nothing_of_stays_common_practice():
    assert rows(OWN)["WRENCHES"] == rows()["WRENCHES"]
    assert rows(OWN)["CLEVIS"] == rows()["CLEVIS"]


@pytest.mark.parametrize(
    ("facts", "groups", "said"),
    [
        ({"CABLE_TAIL": Fact(0.5, 0.25)}, None, "0.5 is more than 0.25"),
        ({"CABLE_TAIL": Fact(0.125, 2.5)}, None, "between 0 and 1 in"),
        ({"CABLE_TAIL": Fact(high=0.25)}, None, "at least"),
        ({"NUT_GAP": Fact()}, None, "at most"),
        ({"SEAT_MOVEMENT": Fact(high=float("nan"))}, None, "between 0 and 1 in"),
        ({"WRENCHES": Fact(2, 20)}, None, "between 0 and 4 wrenches"),
        ({"ANTI_SEIZE": Fact(words=" ")}, None, "say in words"),
        ({"CLEVIS": Fact(words="x")}, None, "no row 'CLEVIS' that a tool set may set"),
        ({"PAINT": Fact(words="x")}, None, "no row 'PAINT'"),
        ({}, (SizeGroup(()),), "needs the old pipes"),
        ({}, (SizeGroup((0.5, 0.75)), SizeGroup((0.75,))), "two groups"),
    ],
)
def test_what_cannot_be_is_refused_in_words(facts, groups, said):
    with pytest.raises(BadSetUp, match=said):
        refuse_set_up(facts, groups)


def test_a_good_set_is_taken():
    refuse_set_up(OWN.facts, OWN.groups)


@pytest.mark.parametrize(
    ("low", "high", "unit", "said"),
    [
        (0.125, 0.25, "in", "1/8 in. to 1/4 in."),
        (None, 0, "in", "none"),
        (None, 0.0625, "in", "at most 1/16 in."),
        (60, None, "ft-lb", "at least 60 ft-lb"),
        (2, 2, "wrenches", "exactly 2 wrenches"),
    ],
)
def test_bounds_in_words(low, high, unit, said):
    assert bounds_said(low, high, unit) == said


def test_jaws_and_nut_of_two_sets_ask_for_a_decision():
    both = {"jaw_set": {"setup": OWN}, "retaining_nut": {"setup": OWN}}
    assert not {"SET_MIXED", "SET_UNKNOWN"} & set(found_in(good_string(**both)))
    mixed = found_in(good_string(jaw_set={"setup": OWN}))["SET_MIXED"]
    assert mixed.level is Level.CAUTION and "of no set" in mixed.message
    plain = found_in(good_string())
    assert plain["SET_UNKNOWN"].level is Level.NOTE and "SET_MIXED" not in plain


def test_a_set_that_is_not_meant_for_these_pipes_says_so():
    fits = found_in(good_string(blade={"setup": OWN}))
    assert "SET_SIZES" not in fits
    wide = found_in(good_string(blade={"setup": OWN}), pipe("LEAD", 1.0, "AA"))
    assert "Blue case names no tools for a 1 in. old and a 1 in. new" in wide["SET_SIZES"].message


def test_the_groups_of_the_set_decide_which_marks_cross():
    """Shipped: 1/2 in. apart from 5/8 to 1 in.; this set keeps 1 in. apart as well."""
    own = SetUp(name="B", instructions="x", groups=(SizeGroup((0.5, 0.75)), SizeGroup((1.0,))))
    marked = {"fits_old_in": (0.75, 1.0)}
    assert "SIZE_GROUP" not in found_in(good_string(blade=marked), OLD)
    assert "SIZE_GROUP" in found_in(good_string(blade={**marked, "setup": own}), OLD)
    crossed = {"fits_old_in": (0.5, 0.75)}
    assert "SIZE_GROUP" in found_in(good_string(blade=crossed), OLD)
    assert "SIZE_GROUP" not in found_in(good_string(blade={**crossed, "setup": own}), OLD)
    assert good_string().first(Kind.BLADE).setup == SetUp()
