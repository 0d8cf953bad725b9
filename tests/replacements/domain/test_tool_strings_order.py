"""Order, orientation and the cable's ends: trade facts, common practice, no source."""

import pytest

from replacements.domain.findings import Level
from replacements.domain.pipes import pipe
from replacements.domain.tool_strings import (
    CableEnd,
    Facing,
    Kind,
    Need,
    Part,
    ToolString,
    assembly_checks,
    check,
    required_kinds,
    tool_string,
)

from .tools import DAY, NEW, OLD, as_built, good_string, judge_assembly, tool, tools


def found_in(string, old=OLD, new=NEW, **known):
    """Every finding by rule."""
    findings = check(string, old, new, **{"length_ft": 60, "as_of": DAY, **known})
    return {finding.rule: finding for finding in findings}


def test_a_string_in_order_has_neither_stop_nor_caution():
    levels = {finding.level for finding in found_in(good_string()).values()}
    assert levels == {Level.NOTE}


def test_the_sharp_flat_end_of_the_blade_faces_the_old_pipe():
    """Common practice, no source."""
    turned = found_in(as_built(tools(), blade_facing=Facing.TAPER_TO_OLD_PIPE))
    unseen = found_in(as_built(tools(), blade_facing=None))
    assert turned["BLADE_FACING"].level is unseen["BLADE_FACING"].level is Level.STOP
    assert "taper" in turned["BLADE_FACING"].message
    assert "BLADE_FACING" not in found_in(good_string())


def test_the_thin_end_is_never_pulled_whatever_the_force():
    """Common practice, no source: 1/4 in. threads, 3/8 in. pulls."""
    thin = found_in(as_built(tools(), pulled_end=CableEnd.THIN), total_force_lbf=1)
    assert thin["THIN_END_PULLED"].level is Level.STOP
    unseen = found_in(as_built(tools(), pulled_end=CableEnd.UNKNOWN))
    assert unseen["PULLED_END_UNKNOWN"].level is Level.STOP


def test_the_joint_between_the_two_diameters_is_looked_at_and_never_taken_for_clear():
    """Common practice, no source: it is the weak point. It was once assumed to lie clear."""
    row = next(row for row in assembly_checks() if row.check == "PULLING_END")
    assert row.stop and "joint between both carry nothing" in row.label
    assert any(f.rule == "ASSEMBLY_PULLING_END" for f in judge_assembly([]))


def test_no_way_to_build_a_string_says_by_itself_how_it_lies():
    unsaid = ToolString(tuple(Part(tool(kind)) for kind in (Kind.CABLE, Kind.BLADE)))
    assert {"BLADE_FACING", "PULLED_END_UNKNOWN"} <= set(found_in(unsaid))
    with pytest.raises(TypeError, match="blade_facing"):
        tool_string(tools())


def test_the_puller_takes_three_eighths_cable_only():
    """Common practice, no source."""
    half = {"cable": {"pulling_end_in": 0.5}, "jaw_set": {"fits_cable_in": (0.5,)}}
    assert found_in(good_string(**half))["PULLER_CABLE"].level is Level.STOP
    without_puller = found_in(good_string(puller=None, **half))
    assert without_puller["PULLER_CABLE"].level is Level.STOP
    assert "JAW_CABLE" not in without_puller


def test_jaws_of_another_cable_stop():
    found = found_in(good_string(jaw_set={"fits_cable_in": (0.3125,)}))
    assert found["JAW_CABLE"].level is Level.STOP
    assert "5/16 in." in found["JAW_CABLE"].message


@pytest.mark.parametrize(
    "kind", ["cable", "blade", "expander", "jaw_set", "retaining_nut", "pipe_puller"]
)
def test_a_string_without_a_required_part_stops(kind):
    found = found_in(good_string(**{kind: None}))["PART_MISSING"]
    assert found.level is Level.STOP
    assert kind.replace("_", " ") in found.message


@pytest.mark.parametrize("kind", ["pre_expander", "spacer"])
def test_without_pre_expander_or_spacer_the_total_is_higher(kind):
    """Common practice, no source: they part slitting force from expanding force."""
    found = found_in(good_string(**{kind: None}))["PART_ADVISED"]
    assert found.level is Level.CAUTION
    assert "plan for a higher total" in found.do


def test_a_seven_by_nineteen_cable_needs_a_swivel():
    assert found_in(good_string(swivel=None))["SWIVEL_MISSING"].level is Level.STOP
    other = {"cable": {"construction": "6X19 IWRC IPS"}, "swivel": None}
    assert found_in(good_string(**other))["PART_ADVISED"].level is Level.CAUTION


@pytest.mark.parametrize("kind", [Kind.BLADE, Kind.EXPANDER, Kind.CABLE, Kind.PIPE_PULLER])
def test_two_of_a_part_that_is_single_stop(kind):
    parts = tools()
    place = next(i for i, item in enumerate(parts) if item.kind is kind)
    parts.insert(place, tool(kind, "SECOND"))
    found = found_in(as_built(parts))["PART_TWICE"]
    assert found.level is Level.STOP and found.value == 2


def test_two_pre_expanders_may_follow_each_other():
    parts = tools()
    parts.insert(4, tool(Kind.PRE_EXPANDER, "SECOND", outside_in=1.2))
    assert not {"PART_TWICE", "ORDER"} & set(found_in(as_built(parts)))


def test_spacer_and_pre_expander_may_change_places():
    parts = tools()
    parts[3], parts[4] = parts[4], parts[3]
    assert "ORDER" not in found_in(as_built(parts))


def test_a_part_out_of_order_is_named_with_its_place():
    parts = tools()
    parts[2], parts[5] = parts[5], parts[2]  # blade behind expander
    found = [f for f in check(as_built(parts), OLD, NEW) if f.rule == "ORDER"]
    assert found and all(f.level is Level.STOP for f in found)
    assert "Blade BL-1 stands behind Expander EX-1" in " ".join(f.message for f in found)


def test_an_empty_string_says_everything_that_is_missing():
    missing = [f for f in check(ToolString(), OLD, NEW) if f.rule == "PART_MISSING"]
    assert len(missing) == 6


def test_what_is_needed_follows_from_the_two_pipes():
    """Common practice, no source."""
    needs = {r.kind: r.need for r in required_kinds(OLD, NEW, "7X19 GALVANIZED")}
    assert needs[Kind.BLADE] is needs[Kind.SWIVEL] is Need.REQUIRED
    assert needs[Kind.SPACER] is Need.ADVISED
    assert {r.kind: r.need for r in required_kinds(OLD, NEW)}[Kind.SWIVEL] is Need.ADVISED
    steel = pipe("GALVANIZED", 0.75, "SCH 40")
    assert Kind.BLADE not in {r.kind for r in required_kinds(steel, NEW)}


def test_the_place_of_a_finding_is_the_place_of_its_part():
    string = good_string(blade={"outside_in": 1.0})
    found = found_in(string)["BLADE_REACH"]
    assert string.parts[found.part].component.kind is Kind.BLADE


def test_a_part_keeps_its_own_facing():
    blade = Part(tool(Kind.BLADE), Facing.TAPER_TO_OLD_PIPE)
    found = check(ToolString((blade,), CableEnd.THICK), OLD, NEW)
    assert any(f.rule == "BLADE_FACING" and f.part == 0 for f in found)
