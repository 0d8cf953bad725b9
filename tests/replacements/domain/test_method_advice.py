"""The ranked ways, their reasons and what blocks them; sites are constructed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.method_advice import (
    CONDITIONS,
    Effect,
    Site,
    advise,
    method_rules,
    unknowns,
)
from replacements.domain.methods import Method
from replacements.domain.pull_force import Bore, ParameterSet, Verdict, soil, soils
from replacements.domain.pull_force.pull_out import holding_psf, longest_pull_out_ft
from tests.examples import examples


def site(**changes) -> Site:
    given = {
        "old_pipe": Bore(0.75, 1.212),
        "length_ft": 40.0,
        "cover_ft": 5.0,
        "soil": "STIFF_CLAY",
        "threadable": True,
        "force_verdict": Verdict.GO,
    }
    return Site(**(given | changes))


def first(**changes) -> Method:
    return advise(site(**changes))[0].method


def blocked(method, **changes) -> bool:
    return next(a for a in advise(site(**changes)) if a.method is method).blocked


class TestRanking:
    def test_a_plain_line_in_clay_is_slit(self):
        assert first() is Method.SPLIT

    def test_lead_that_must_leave_loose_sand_is_pulled_out(self):
        assert first(soil="LOOSE_SAND", lead_must_leave=True, length_ft=20) is Method.PULL_OUT

    def test_steel_in_a_straight_line_is_split_with_rods(self):
        assert first(old_material="GALVANIZED") is Method.ROD_SPLIT

    def test_an_unthreadable_bend_asks_for_a_new_bore(self):
        assert first(threadable=False, bends_deg=90) is Method.PIERCING

    @pytest.mark.parametrize(
        "changes",
        [{"hard_fill": True, "new_route": False}, {"length_ft": 6}, {"unverified_crossing": True}],
    )
    def test_open_cut(self, changes):
        assert first(**changes) is Method.OPEN_CUT

    def test_a_long_deep_road_crossing_is_drilled(self):
        long = {"length_ft": 180, "cover_ft": 9, "road_crossing": True, "paved": True}
        assert first(**long, force_verdict=Verdict.NO_GO, bends_deg=60) is Method.DRILLING


class TestBlocks:
    @pytest.mark.parametrize(
        "method, changes",
        [
            (Method.SPLIT, {"frozen": True}),
            (Method.SPLIT, {"hard_fill": True}),
            (Method.SPLIT, {"rock": True}),
            (Method.SPLIT, {"uncuttable_joints": 1}),
            (Method.SPLIT, {"threadable": False}),
            (Method.SPLIT, {"old_material": "GALVANIZED"}),
            (Method.SPLIT, {"unverified_crossing": True}),
            (Method.SPLIT, {"force_verdict": Verdict.NO_GO}),
            (Method.PULL_OUT, {"soil": "VERY_STIFF_CLAY"}),
            (Method.ROD_SPLIT, {"bends_deg": 45}),
            (Method.PIERCING, {"congested": True}),
            (Method.PIERCING, {"length_ft": 151}),
            (Method.DRILLING, {"new_route": False}),
        ],
    )
    def test_what_blocks(self, method, changes):
        assert blocked(method, **changes)

    def test_what_is_not_known_blocks_nothing_but_is_told(self):
        unsure = {"threadable": None, "force_verdict": None}
        assert not blocked(Method.SPLIT, **unsure)
        assert len(unknowns(site(**unsure))) == 2
        assert unknowns(site()) == []


class TestPullOut:
    def test_planned_length_is_seven_tenths(self):
        """Adhesion of stiff clay 0.6 of 1,500 psf; lead at 2,000 psi (derived)."""
        here = site()
        longest = longest_pull_out_ft(here.old_pipe, 900)
        assert here.pull_out_ft == pytest.approx(0.7 * longest)

    def test_sand_holds_by_its_weight(self):
        """Half of 115 pcf x 5 ft times 0.30 is 86 psf (derived)."""
        assert holding_psf(soil("MEDIUM_SAND"), 5, ParameterSet()) == pytest.approx(86.25)

    def test_the_reason_names_the_length(self):
        here = site(soil="STIFF_CLAY")
        advice = next(a for a in advise(here) if a.method is Method.PULL_OUT)
        assert f"longer than {here.pull_out_ft:.0f} ft" in advice.blockers[0].text


class TestTable:
    def test_every_condition_of_the_table_is_known_and_used(self):
        assert {rule.condition for rule in method_rules()} == set(CONDITIONS)

    def test_every_row_has_a_source_and_a_reason(self):
        for rule in method_rules():
            assert rule.source
            assert rule.reason
            assert rule.mark in {"seen", "memory", "derived", "judgment", "practice"}
            assert (rule.points == 0) == (rule.effect is Effect.BLOCK)

    def test_open_cut_is_never_blocked(self):
        assert not [
            rule
            for rule in method_rules()
            if rule.method is Method.OPEN_CUT and rule.effect is Effect.BLOCK
        ]


FLAGS = (
    "frozen rock hard_fill groundwater congested unverified_crossing new_route tight_yard paved "
    "road_crossing open_works lead_must_leave"
).split()


@examples(80)
@given(
    st.fixed_dictionaries({flag: st.booleans() for flag in FLAGS}),
    st.sampled_from(sorted(soils())),
    st.floats(1, 300),
)
def test_every_site_gets_every_way_ranked_with_a_way_out(flags, code, length_ft):
    here = site(soil=code, length_ft=length_ft, **flags)
    ways = advise(here)
    assert ways == advise(here)
    assert [way.rank for way in ways] == list(range(1, len(Method) + 1))
    assert {way.method for way in ways} == set(Method)
    assert not ways[0].blocked
    assert all(way.reasons for way in ways)
    free = [way.score for way in ways if not way.blocked]
    assert free == sorted(free, reverse=True)
    assert all(way.blocked for way in ways[len(free) :])


@pytest.mark.parametrize("changes", [{"length_ft": 0}, {"cover_ft": -1}, {"soil": "MUD"}])
def test_bad_input(changes):
    with pytest.raises(ValueError):
        site(**changes)
