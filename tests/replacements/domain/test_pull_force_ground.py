"""What the drag, the bends and the clay do to a verdict; what can be measured (constructed)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.pull_force import (
    DragBasis,
    DragLimit,
    Force,
    Limit,
    RigidString,
    Verdict,
    estimate,
    measurements,
    method_text,
    soils,
)
from tests.examples import examples
from tests.replacements.domain.own_soil import own_soil

from .test_pull_force import RANK, case, rules


class TestTheDragSide:
    """Grip, break-away link and pipe puller carry the drag, beside the new pipe (constructed)."""

    def test_the_weakest_of_them_is_named(self):
        made = estimate(case(drag_limits_lbf={DragLimit.BREAKAWAY_LINK: 430.0}))
        assert (made.drag_limit_lbf, made.drag_limited_by) == (430, "BREAKAWAY_LINK")
        assert made.pipe_limit_lbf == pytest.approx(810)
        assert [c.name for c in made.checks if c.force is Force.DRAG] == [
            "NEW_PIPE", "BREAKAWAY_LINK"
        ]  # fmt: skip
        assert estimate(case()).drag_limited_by == "NEW_PIPE"

    def test_a_link_that_parts_below_the_drag_stops(self):
        made = estimate(case(drag_limits_lbf={DragLimit.BREAKAWAY_LINK: 100.0}))
        assert made.verdict is Verdict.NO_GO
        assert rules(made) == {"USE_BREAKAWAY_LINK"}
        assert "part before the pull is through" in made.findings[0].do

    def test_a_link_above_the_pipes_limit_stops_and_both_are_shown_on_the_safe_side(self):
        of_pipe = {"pipe_allowable_lbf": 439.8, "grip_efficiency": 1.0}
        made = estimate(case(**of_pipe, drag_limits_lbf={DragLimit.BREAKAWAY_LINK: 440.0}))
        (said,) = [f.message for f in made.findings if f.rule == "LINK_ABOVE_PIPE"]
        assert "parts at 440 lb" in said and "may bear 439 lb" in said
        exact = estimate(case(**of_pipe, drag_limits_lbf={DragLimit.BREAKAWAY_LINK: 439.8}))
        assert "LINK_ABOVE_PIPE" not in rules(exact)

    def test_a_link_without_a_rating_and_a_weak_expander_stop(self):
        made = estimate(case(drag_limits_lbf={DragLimit.BREAKAWAY_LINK: None}))
        assert "NO_RATING_BREAKAWAY_LINK" in rules(made)
        assert made.drag_limit_lbf is None
        weak = dict.fromkeys(Limit, 4000.0) | {"EXPANDER": 900.0}
        made = estimate(case(limits_lbf=weak))
        assert (made.limit_lbf, made.limited_by) == (900, "EXPANDER")
        assert "USE_EXPANDER" in rules(made)


STRING = RigidString(nose_in=3, length_in=13.5, pilot_in=0.5625)


def bent(radius_in, **changes):
    """Return the estimate of a right angle of a radius in a 35 ft run (constructed)."""
    known = {"rigid": STRING, "bend_limit_in": 22.5, "bend_source": "a handbook"}
    limits = dict.fromkeys(Limit, 9000.0)
    return estimate(case(bends=[(20, 90, radius_in)], limits_lbf=limits, **(known | changes)))


class TestBends:
    def test_a_right_angle_is_no_clean_go(self):
        assert bent(None).verdict is Verdict.CAUTION
        assert rules(bent(None)) == {"BEND_RADIUS_UNKNOWN"}
        assert estimate(
            case(bends=[(20, 90)], limits_lbf=dict.fromkeys(Limit, 9000.0))
        ).verdict is (Verdict.CAUTION)

    def test_what_is_not_known_says_which_radius_it_takes(self):
        (said,) = bent(None).findings
        assert "365 in. for the string in one piece and 23 in. for the new pipe" in said.message
        assert "camera" in said.do and "cut the run" in said.do
        assert said.at_ft == 20

    @pytest.mark.parametrize(
        ("radius_in", "found"),
        [
            (9, {"BEND_NOSE", "BEND_NEW_PIPE"}),
            (20, {"BEND_NEW_PIPE", "BEND_STRING"}),
            (30, {"BEND_STRING"}),
            (400, set()),
        ],
    )
    def test_each_radius_has_its_findings(self, radius_in, found):
        """Room 1/16 in.: the nose of 3 in. needs 18 in., the 13.5 in. string 365 in. (derived)."""
        made = bent(radius_in)
        assert rules(made) == found
        stops = {"BEND_NOSE", "BEND_NEW_PIPE"} & found
        assert made.verdict is (
            Verdict.NO_GO if stops else Verdict.CAUTION if found else Verdict.GO
        )
        assert all(f.source for f in made.findings)

    def test_the_source_of_the_pipes_radius_is_told(self):
        (said,) = [f for f in bent(20).findings if f.rule == "BEND_NEW_PIPE"]
        assert said.source == "a handbook"

    def test_without_a_string_nothing_is_claimed(self):
        assert rules(bent(400, rigid=None)) == {"BEND_STRING_UNKNOWN"}

    def test_a_string_that_fills_the_bore_passes_no_bend(self):
        tight = RigidString(3, 13.5, 0.7)
        assert "BEND_NOSE" in rules(bent(400, rigid=tight))
        assert "has no room in the bore" in bent(400, rigid=tight).findings[0].message

    @examples(40)
    @given(st.floats(1, 500), st.floats(0.1, 1))
    def test_a_tighter_bend_never_betters_the_verdict(self, radius_in, share):
        gentle, tight = bent(radius_in), bent(radius_in * share)
        assert RANK.index(tight.verdict) >= RANK.index(gentle.verdict)


class TestSqueezing:
    def test_only_weak_clay_squeezes(self):
        assert not any(
            estimate(case(soil=code)).squeeze.shuts for code in soils() if code != "VERY_SOFT_CLAY"
        )
        made = estimate(case(soil="VERY_SOFT_CLAY"))
        assert made.squeeze.shuts and made.drag_basis is DragBasis.SQUEEZED_CLAY
        assert made.drag.high_lbf == pytest.approx(made.squeeze.with_bends_lbf)
        assert made.high_lbf >= made.parts.expand_soil + made.squeeze.with_bends_lbf

    def test_the_threshold_is_five_times_the_strength(self):
        """120 pcf at 5 ft: 600 psf over a strength measured at 120 and 121 psf."""
        weak, held = (
            estimate(case(soil=own_soil("CLAY", 120, strength, 100))) for strength in (120, 121)
        )
        assert (weak.squeeze.shuts, held.squeeze.shuts) == (True, False)
        assert held.drag_basis is DragBasis.ARCHING
        assert any("squeezes" in line or "squeeze" in line for line in method_text(held))

    def test_a_vane_in_the_pit_settles_it(self):
        measured = soils()["VERY_SOFT_CLAY"].measured(240)
        made = estimate(case(soil=measured))
        assert not made.squeeze.shuts
        assert made.case.soil.code == "VERY_SOFT_CLAY"
        with pytest.raises(ValueError, match="must be above zero"):
            measured.measured(0)

    def test_clay_holds_on_no_harder_than_it_sticks(self):
        """The bound's shear is the lesser of 0.3 of the overburden and adhesion x strength."""
        deep = estimate(case(soil="VERY_SOFT_CLAY", cover_ft=30))
        around = 3.14159 * 0.875 / 12
        assert deep.squeeze.with_bends_lbf == pytest.approx(35 * around * 250, rel=0.02)


class TestWhatCanBeMeasured:
    def test_what_moves_the_total_most_comes_first_with_how(self):
        found = measurements(case())
        sizes = [each.swing.swing_lbf for each in found]
        assert sizes == sorted(sizes, reverse=True)
        assert {each.swing.code for each in found} == {
            "BLADE_THICKNESS", "BLADE_HALF_ANGLE", "CONE_HALF_ANGLE", "SOIL_STRENGTH"
        }  # fmt: skip
        assert all(each.how and each.unit for each in found)

    def test_what_was_measured_is_asked_no_more_and_a_vane_only_in_clay(self):
        known = measurements(case(values={"BLADE_THICKNESS": 0.16}, soil="MEDIUM_SAND"))
        assert {"BLADE_THICKNESS", "SOIL_STRENGTH"}.isdisjoint(each.swing.code for each in known)
