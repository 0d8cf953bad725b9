"""Wire rope in use and its retirement; the published figures are in tests/outside."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.findings import Level
from replacements.domain.reference_tables import rows
from replacements.domain.ropes import (
    DesignFactorTooLow,
    RopeError,
    RopeInspection,
    UnknownRope,
    bend_efficiency,
    breaking_force_lbf,
    constructions,
    design_factor_findings,
    holds_a_pull,
    retirement_findings,
    rope,
    termination_efficiency,
    working_limit_lbf,
)

CABLE = rope("7X19 GALVANIZED", 0.375)


def retired_by(**seen):
    """The codes of the criteria that retire a 3/8 in. 7x19 cable."""
    return {
        f.rule.removeprefix("RETIRE_") for f in retirement_findings(RopeInspection(**seen), CABLE)
    }


def test_a_thicker_rope_of_a_construction_is_stronger():
    for construction in constructions():
        of_kind = [r for r in rows("wire_rope") if r["construction"] == construction]
        forces = [float(r["breaking_force_lbf"]) for r in of_kind]
        assert forces == sorted(forces), construction


def test_an_unknown_rope_lists_what_there_is():
    with pytest.raises(UnknownRope, match="7X19 GALVANIZED"):
        breaking_force_lbf("8X8", 0.375)
    with pytest.raises(UnknownRope, match="3/8 in., 7/16 in., 1/2 in. Use the certificate"):
        breaking_force_lbf("7X19 GALVANIZED", 0.4)
    with pytest.raises(UnknownRope, match="JAW_SET"):
        termination_efficiency("KNOT")


def test_the_design_factor_has_a_floor_of_two_and_warns_below_three():
    assert working_limit_lbf(10_000, design_factor=2) == 4_000
    for factor in (1.99, 0, -3, float("nan")):
        with pytest.raises(DesignFactorTooLow, match="floor of 2"):
            working_limit_lbf(10_000, design_factor=factor)
    assert [f.level for f in design_factor_findings(1.9)] == [Level.STOP]
    assert [f.level for f in design_factor_findings(2.5)] == [Level.CAUTION]
    assert design_factor_findings(3) == []


def test_a_single_crimp_stop_is_no_pulling_end():
    assert not holds_a_pull("SINGLE_CRIMP_STOP")
    assert holds_a_pull("JAW_SET")


def test_bends_follow_the_curve_and_end_at_a_sharp_edge():
    assert [bend_efficiency(r) for r in (20, 10, 4, 2, 1)] == [0.95, 0.90, 0.80, 0.65, 0.50]
    assert bend_efficiency(None) == 1.0
    assert bend_efficiency(100) == 0.95
    assert bend_efficiency(7) == pytest.approx(0.85)
    with pytest.raises(RopeError, match="sharp edge"):
        bend_efficiency(0.5)


@given(st.floats(1, 1e5), st.floats(1, 1e5), st.floats(2, 10), st.floats(2, 10))
def test_a_weaker_cable_or_a_larger_factor_never_raises_the_limit(a, b, factor, other):
    weak, strong = sorted((a, b))
    small, large = sorted((factor, other))
    assert working_limit_lbf(weak, design_factor=large) <= working_limit_lbf(
        strong, design_factor=small
    )


def test_a_cable_with_nothing_found_stays_in_use():
    assert retired_by() == set()
    assert retired_by(broken_wires_in_lay=0, broken_wires_in_strand=0, kinked=False) == set()


def test_the_strictest_criterion_decides_unless_a_duty_is_named():
    three = RopeInspection(broken_wires_in_lay=3)
    assert {f.rule for f in retirement_findings(three, CABLE)} == {"RETIRE_STANDING_WIRES_IN_LAY"}
    assert retirement_findings(three, CABLE, duty="RUNNING") == []
    assert retirement_findings(three, CABLE, duty="STANDING")


@pytest.mark.parametrize("row", rows("retirement"), ids=lambda row: row["code"])
def test_both_sides_of_every_criterion(row):
    limit, measure = float(row["limit"]), row["measure"]
    wires = {
        "share_of_wires_in_lay": ("broken_wires_in_lay", CABLE.wires),
        "share_of_wires_in_strand": ("broken_wires_in_strand", CABLE.wires_per_strand),
        "share_of_wires_in_8_diameters": ("broken_wires_in_8_diameters", CABLE.wires),
        "peak_share_of_breaking": ("peak_force_lbf", CABLE.breaking_force_lbf),
    }
    name, whole = wires.get(measure, (measure, 1))
    if row["compare"] == "SEEN":
        under, over = False, True
    elif row["compare"] == "AT_LEAST":
        under, over = limit - 1, limit
    else:
        under, over = limit * whole * 0.999, limit * whole * 1.001
    assert row["code"] not in retired_by(**{name: under})
    assert row["code"] in retired_by(**{name: over})


def test_each_retirement_cites_its_own_source():
    for found in retirement_findings(RopeInspection(broken_wires_in_strand=5, kinked=True), CABLE):
        assert found.level is Level.STOP
        row = next(r for r in rows("retirement") if found.rule == f"RETIRE_{r['code']}")
        assert row["source"] in found.source and f"[{row['mark']}]" in found.source


def test_an_overload_is_judged_by_the_certificate_before_the_table():
    peak = RopeInspection(peak_force_lbf=7000, breaking_force_lbf=13_000)
    assert {f.rule for f in retirement_findings(peak, CABLE)} == {"RETIRE_OVERLOAD"}
    assert retirement_findings(RopeInspection(peak_force_lbf=7000), CABLE) == []
