"""Clearance, heave, cover and frost round a pull."""

from dataclasses import replace

import pytest

from replacements.domain.findings import Level
from replacements.domain.ground import (
    GroundCondition,
    GroundOfRun,
    OtherLine,
    Surface,
    UtilityKind,
    check_clearances,
    check_cover,
    check_ground,
    check_heave,
    clearance_in,
    ground_rule,
    heave_free_cover_ft,
    required_separation_in,
)


class TestClearance:
    @pytest.mark.parametrize("head, pipe, inches", [(12, 8, 40), (10, 8, 20)])
    def test_published_examples(self, head, pipe, inches):
        """International Pipe Bursting Association, Sept. 2011 (seen)."""
        assert clearance_in(head, pipe) == inches

    @pytest.mark.parametrize("head, pipe", [(1.25, 0.625), (1.625, 1.0)])
    def test_service_sizes_need_about_6_in(self, head, pipe):
        """Derived from the same rule."""
        assert clearance_in(head, pipe) == pytest.approx(6.25)

    def test_doubled_in_dense_ground(self):
        assert clearance_in(10, 8, dense_ground=True) == 40

    @pytest.mark.parametrize(
        "kind, inches",
        [("WATER", 12), ("SEWER", 12), ("GAS", 24), ("ELECTRIC", 24), ("FIBRE", 24), ("OTHER", 24)],
    )
    def test_floors(self, kind, inches):
        assert required_separation_in(kind, 6.25) == inches

    def test_a_clearance_above_the_floor_stays(self):
        assert required_separation_in(UtilityKind.GAS, 40) == 40


def levels(*lines, **more):
    found = check_clearances(lines, 1.25, 0.625, **more)
    return [(finding.level, finding.rule) for finding in found]


class TestOtherLines:
    def test_far_enough(self):
        assert levels(OtherLine(UtilityKind.GAS, 24), OtherLine(UtilityKind.WATER, 24)) == []

    def test_alongside_at_the_floor(self):
        assert levels(OtherLine(UtilityKind.SEWER, 12, crossing=False)) == []
        assert levels(OtherLine(UtilityKind.SEWER, 11.9, crossing=False)) == [
            (Level.STOP, "EXPOSE_FIRST")
        ]

    def test_a_crossing_closer_than_24_in_is_exposed_first(self):
        assert levels(OtherLine(UtilityKind.SEWER, 23.9)) == [(Level.STOP, "EXPOSE_FIRST")]
        assert levels(OtherLine(UtilityKind.SEWER, 23.9, exposed=True)) == []

    def test_exposed_inside_the_floor_is_watched(self):
        assert levels(OtherLine(UtilityKind.GAS, 20, exposed=True)) == [
            (Level.CAUTION, "WATCH_LINE")
        ]

    @pytest.mark.parametrize(
        "line, level",
        [
            (OtherLine(UtilityKind.WATER, 5, exposed=True), Level.CAUTION),
            (OtherLine(UtilityKind.WATER, 5, exposed=True, rigid=True), Level.STOP),
            (OtherLine(UtilityKind.GAS, 5, exposed=True), Level.STOP),
        ],
    )
    def test_exposed_inside_the_reach_of_the_ground(self, line, level):
        assert levels(line) == [(level, "INSIDE_CLEARANCE")]

    def test_unknown_distance_stops(self):
        assert levels(OtherLine(UtilityKind.SEWER, None)) == [(Level.STOP, "SEPARATION_UNKNOWN")]

    def test_dense_ground_reaches_further(self):
        line = OtherLine(UtilityKind.SEWER, 12.2, crossing=False)
        assert levels(line) == []
        assert levels(line, dense_ground=True) == [(Level.STOP, "EXPOSE_FIRST")]

    def test_below_zero(self):
        with pytest.raises(ValueError, match="cannot be below zero: -1"):
            OtherLine(UtilityKind.GAS, -1)

    def test_findings_say_where_and_what_to_do(self):
        (finding,) = check_clearances([OtherLine(UtilityKind.GAS, 8, at_ft=14)], 1.25, 0.625)
        assert (finding.at_ft, finding.value) == (14, 8)
        assert "8 in. away; 24 in. are wanted" in finding.message
        assert finding.do
        assert finding.source.endswith("]")


class TestHeaveAndCover:
    def test_two_feet_hold_for_service_sizes(self):
        assert heave_free_cover_ft(1.25, 1.05) == 2
        assert check_heave(2.0, 1.25, 1.05) == []
        assert [f.rule for f in check_heave(1.9, 1.25, 1.05)] == ["HEAVE"]

    def test_a_large_expander_needs_more(self):
        assert heave_free_cover_ft(6, 3) == pytest.approx(2.5)

    def test_surfaces_are_watched_but_lawn(self):
        (finding,) = check_heave(5, 1.25, 1.05, [Surface.LAWN, Surface.BRICK_WALK, Surface.SLAB])
        assert finding.level is Level.NOTE
        assert "brick walk, slab" in finding.message

    @pytest.mark.parametrize("frozen, rules", [(4.9, []), (5.0, ["FROZEN_AT_PIPE"])])
    def test_frost_at_the_pipe_stops(self, frozen, rules):
        assert [f.rule for f in check_cover(5.0, 4.0, frozen)] == rules

    def test_shallower_than_the_local_code(self):
        """Codes of 7 and 7.5 ft: Elbow Lake and Osseo, Minnesota (seen)."""
        assert [f.rule for f in check_cover(6.9, 7.0)] == ["COVER_TOO_SHALLOW"]
        assert check_cover(7.5, 7.5) == []

    def test_a_code_nobody_entered_is_told(self):
        assert [f.level for f in check_cover(5.0)] == [Level.NOTE]


def test_every_rule_has_a_source():
    for code in ("CLEARANCE_PER_WIDENING", "FLOOR", "SENSITIVE_FLOOR", "EXPOSE_WITHIN"):
        assert ground_rule(code).source
        assert ground_rule(code).mark in {"seen", "judgment"}


class TestTheWholeRun:
    """Constructed runs: a 1.25 in. expander over a 5/8 in. bore, 1.05 in. outside."""

    def ground(self, **more) -> GroundOfRun:
        known = {"expander_in": 1.25, "hole_in": 0.625, "old_outside_in": 1.05, "cover_ft": 5.0}
        return GroundOfRun(**{**known, "looked_for": True, "required_cover_ft": 5.0, **more})

    def test_quiet_ground_says_nothing(self):
        assert check_ground(self.ground()) == []

    def test_stops_come_first(self):
        found = check_ground(
            self.ground(
                looked_for=False,
                lines=(OtherLine(UtilityKind.GAS, None, at_ft=3),),
                conditions=frozenset({GroundCondition.ROCK}),
                required_cover_ft=None,
            )
        )
        assert [(f.level, f.rule) for f in found] == [
            (Level.STOP, "SEPARATION_UNKNOWN"),
            (Level.STOP, "ROCK"),
            (Level.CAUTION, "OTHER_LINES_NOT_LOOKED_FOR"),
            (Level.NOTE, "COVER_RULE_UNKNOWN"),
        ]

    def test_dense_ground_reaches_twice_as_far(self):
        # IPBA, Underground Infrastructure, Sept. 2011: the clearance may need doubling.
        near = (OtherLine(UtilityKind.WATER, 12.4, crossing=False, exposed=True),)
        assert check_ground(self.ground(lines=near)) == []
        dense = self.ground(lines=near, conditions=frozenset({GroundCondition.DENSE_GROUND}))
        assert [f.rule for f in check_ground(dense)] == ["INSIDE_CLEARANCE"]

    def test_ground_dug_away_beside_an_exposed_line_leaves_it_to_be_watched(self):
        near = OtherLine(UtilityKind.GAS, 5, exposed=True, at_ft=3)
        assert [f.level for f in check_ground(self.ground(lines=(near,)))] == [Level.STOP]
        (found,) = check_ground(self.ground(lines=(replace(near, relieved=True),)))
        assert (found.level, found.rule) == (Level.CAUTION, "WATCH_LINE")

    def test_a_trench_widens_nothing(self):
        lines = (OtherLine(UtilityKind.GAS, 3, at_ft=3),)
        found = check_ground(self.ground(expander_in=None, lines=lines, frozen_to_ft=6))
        assert [f.rule for f in found] == ["DIG_BY_HAND"]
