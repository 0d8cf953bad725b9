"""What each way of replacing a line asks of its string, its checklist and its estimate."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.findings import Level
from replacements.domain.methods import PULLED, Method, pulled_as
from replacements.domain.pipes import pipe
from replacements.domain.pull_force import Bend, Bore, Joint, PullCase, Verdict, estimate
from replacements.domain.pull_force.pull_out import holding_psf, longest_pull_out_ft
from replacements.domain.tool_strings import (
    Answer,
    CableEnd,
    Kind,
    Need,
    check,
    checks_for,
    judge_rows,
    parts_of,
    propose,
)
from tests.examples import examples

from .tools import DAY, NEW, OLD, as_built, tool, tools

ROD = tool(Kind.CABLE, "R-1", construction="", breaking_force_lbf=None, thin_end_in=None)
ROD = replace(
    ROD, kind=Kind.ROD, pulling_end_in=None, outside_in=0.625, length_ft=100, rated_lbf=20_000
)
ROD_PULLER = tool(Kind.PULLER, "P-2", fits_cable_in=(), fits_rod_in=(0.625,), rated_lbf=20_000)
SLITTING = tools()
WHOLE = [t for t in SLITTING if t.kind not in (Kind.BLADE, Kind.PRE_EXPANDER, Kind.SPACER)]
ON_RODS = [ROD_PULLER, ROD, *(t for t in SLITTING if t.kind not in (
    Kind.PULLER, Kind.CABLE, Kind.JAW_SET, Kind.RETAINING_NUT))]  # fmt: skip
STRINGS = {Method.SPLIT: SLITTING, Method.PULL_OUT: WHOLE, Method.ROD_SPLIT: ON_RODS}


def stops(parts, method, **known):
    """Return the rules that stop a string of these parts by a method."""
    known = {"length_ft": 60, "as_of": DAY, **known}
    return {f.rule for f in check(as_built(parts), OLD, NEW, method=method, **known)
            if f.level is Level.STOP}  # fmt: skip


# Rows: whose string; columns: the method that the order names.
TABLE = {
    (Method.SPLIT, Method.SPLIT): set(),
    (Method.SPLIT, Method.PULL_OUT): {"PART_WRONG"},
    (Method.SPLIT, Method.ROD_SPLIT): {"PART_WRONG", "PART_MISSING"},
    (Method.PULL_OUT, Method.SPLIT): {"PART_MISSING"},
    (Method.PULL_OUT, Method.PULL_OUT): set(),
    (Method.PULL_OUT, Method.ROD_SPLIT): {"PART_WRONG", "PART_MISSING"},
    (Method.ROD_SPLIT, Method.SPLIT): {"PART_WRONG", "PART_MISSING"},
    (Method.ROD_SPLIT, Method.PULL_OUT): {"PART_WRONG", "PART_MISSING"},
    (Method.ROD_SPLIT, Method.ROD_SPLIT): set(),
}


@pytest.mark.parametrize(("strung", "method"), TABLE)
def test_the_string_of_a_method_passes_for_that_method_and_for_no_other(strung, method):
    assert stops(STRINGS[strung], method) == TABLE[strung, method]


def test_every_pulled_method_has_its_parts_each_with_a_reason():
    assert set(parts_of()) == PULLED
    for needs in parts_of().values():
        assert all(need.why for need in needs)
        assert len({need.kind for need in needs}) == len(needs)


@pytest.mark.parametrize("method", sorted(PULLED))
def test_each_required_part_left_out_stops_and_each_wrong_one_put_in(method):
    for need in parts_of()[method]:
        if need.need is Need.REQUIRED:
            left = [t for t in STRINGS[method] if t.kind is not need.kind]
            assert stops(left, method) & {"PART_MISSING", "SWIVEL_MISSING"}, need.kind
        if need.need is Need.WRONG:
            extra = ROD if need.kind is Kind.ROD else tool(need.kind, "X-1")
            assert "PART_WRONG" in stops([*STRINGS[method], extra], method), need.kind


@pytest.mark.parametrize("method", sorted(PULLED))
def test_the_proposal_is_a_string_of_the_order_s_method(method):
    proposed = propose(
        OLD, NEW, [*SLITTING, ROD, ROD_PULLER], 60, DAY + timedelta(days=1), method=method
    )
    kinds = {part.component.kind for part in proposed.tool_string.parts}
    needs = {need.kind: need.need for need in parts_of()[method]}
    assert kinds >= {kind for kind, need in needs.items() if need is Need.REQUIRED}
    assert not kinds & {kind for kind, need in needs.items() if need is Need.WRONG}
    assert {f.rule for f in proposed.findings if f.level is Level.STOP} == set()


def test_rods_pass_the_bore_reach_both_pits_and_fit_their_puller():
    def with_rod(**changed):
        return [replace(t, **changed) if t.kind is Kind.ROD else t for t in ON_RODS]

    assert stops(with_rod(outside_in=0.75), Method.ROD_SPLIT) == {"ROD_BORE", "PULLER_ROD"}
    assert stops(with_rod(length_ft=70), Method.ROD_SPLIT) == {"ROD_SHORT"}
    assert stops(with_rod(rated_lbf=None), Method.ROD_SPLIT) == {"RATING_MISSING"}
    assert stops(with_rod(rated_lbf=200_000), Method.ROD_SPLIT) == {"RATING_DOUBTED"}


def test_a_string_on_rods_is_not_asked_which_end_of_a_cable_is_pulled():
    unsaid = as_built(ON_RODS, pulled_end=CableEnd.UNKNOWN)
    found = check(unsaid, OLD, NEW, length_ft=60, as_of=DAY, method=Method.ROD_SPLIT)
    assert "PULLED_END_UNKNOWN" not in {f.rule for f in found}


def test_only_the_blade_of_a_cable_is_held_to_lead():
    steel = pipe("GALVANIZED", 0.75, "SCH 40")
    said = {
        method: {f.rule for f in check(as_built(parts), steel, NEW, method=method)}
        for method, parts in STRINGS.items()
    }
    assert [method for method in said if "OLD_PIPE" in said[method]] == [Method.SPLIT]


ASKED = {
    "BLADE_FACING": {Method.SPLIT, Method.ROD_SPLIT},
    "CABLE_TAIL": {Method.SPLIT, Method.PULL_OUT},
    "NUT_GAP": {Method.SPLIT, Method.PULL_OUT},
    "PULLING_END": {Method.SPLIT, Method.PULL_OUT},
    "CABLE_CONDITION": {Method.SPLIT, Method.PULL_OUT},
    "ROD_JOINTS": {Method.ROD_SPLIT},
    "ROD_CONDITION": {Method.ROD_SPLIT},
    "OLD_PIPE_BORNE": {Method.PULL_OUT},
    "COLLAR": PULLED,
    "CLEVIS": PULLED,
    "TRACER_WIRE": PULLED,
}


@pytest.mark.parametrize("row", ASKED)
def test_each_row_of_the_checklist_is_asked_where_there_is_something_to_look_at(row):
    asked = {m for m in PULLED if row in {c.check for c in checks_for("PE", method=m)}}
    assert asked == ASKED[row]


OF_THE_START = {
    "EXCLUSION_ZONE", "RELIEF_AND_GAUGE", "STOP_AND_RADIO", "LINE_FREE", "BORE_PROVED",
    "LEAD_HYGIENE",
}  # fmt: skip


def test_what_the_start_asks_on_the_day_is_not_asked_by_the_checklist_but_heard_there():
    asked = {check.check for method in PULLED for check in checks_for("PE", method=method)}
    assert not asked & OF_THE_START
    for key in OF_THE_START:
        rows = judge_rows([Answer(key, passed=False, answered_by="crew")], method=Method.SPLIT)
        (row,) = (row for row in rows if row.check.check == key)
        assert row.failed and row.finding.level is Level.STOP


def planned(method, **changed):
    """Return a pull of 30 ft in stiff clay with every part rated."""
    given = {
        "old_pipe": Bore(0.75, 1.212), "new_pipe": Bore(0.875, 1.125), "expander_in": 1.34,
        "length_ft": 30.0, "cover_ft": 5.0, "soil": "STIFF_CLAY", "method": method,
        "limits_lbf": dict.fromkeys(
            ("CABLE", "JAW_SET", "CLEVIS", "SWIVEL", "PULLER", "ANCHOR"), 9000.0),
        "pipe_allowable_lbf": 550.0, "grip_efficiency": 0.8,
    }  # fmt: skip
    return PullCase(**(given | changed))


def test_what_is_drawn_out_is_not_slit_and_the_ground_holds_it():
    """By hand: adhesion times skin, all of it at the start; 0 at the end of the run."""
    case = planned(Method.PULL_OUT)
    made = estimate(case)
    held = holding_psf(case.soil, 5.0, case.parameter_set) * 3.14159 * 1.212 / 12 * 30
    assert made.parts.hold == pytest.approx(held, rel=1e-4)
    assert (made.parts.slit, made.parts.open_shell) == (0, 0)
    assert made.peak_ft == 0 and made.start_lbf > made.end_lbf
    assert made.start_lbf - made.end_lbf == pytest.approx(held - made.drag_per_ft * 30, rel=1e-4)
    assert made.parts.total == pytest.approx(made.expected_lbf)


def test_rods_take_the_same_work_as_a_blade_on_a_cable():
    slit, rods = estimate(planned(Method.SPLIT)), estimate(planned(Method.ROD_SPLIT))
    assert rods.total == slit.total and rods.parts == slit.parts


def rules(made, level):
    return {f.rule for f in made.findings if f.level is level}


def test_lead_that_would_tear_is_not_drawn_out():
    case = planned(Method.PULL_OUT)
    most = longest_pull_out_ft(case.old_pipe, holding_psf(case.soil, 5.0, case.parameter_set))
    long = estimate(planned(Method.PULL_OUT, length_ft=most * 0.7 + 1))
    short = estimate(planned(Method.PULL_OUT, length_ft=most * 0.7 - 1))
    assert "OLD_PIPE_TEARS" in rules(long, Level.STOP) and long.verdict is Verdict.NO_GO
    assert "OLD_PIPE_TEARS" not in rules(short, Level.STOP)


def test_a_joint_catches_where_the_pipe_comes_out_and_is_cut_where_it_is_slit():
    joints = (Joint(10.0),)
    out = estimate(planned(Method.PULL_OUT, joints=joints))
    slit = estimate(planned(Method.SPLIT, joints=joints))
    assert "JOINT_CATCHES" in rules(out, Level.CAUTION) and not out.joints
    assert slit.joints and "JOINT_CATCHES" not in rules(slit, Level.CAUTION)


def test_rods_stop_at_bends_that_a_cable_passes():
    bent = {"bends": (Bend(10.0, 25.0, 60.0),)}
    assert "BENDS_RODS" in rules(estimate(planned(Method.ROD_SPLIT, **bent)), Level.STOP)
    assert "BENDS_RODS" not in rules(estimate(planned(Method.SPLIT, **bent)), Level.STOP)


@examples(60)
@given(
    st.sampled_from(sorted(PULLED)), st.sampled_from(("STIFF_CLAY", "MEDIUM_SAND")),
    st.floats(10, 80), st.floats(1, 20), st.floats(3, 7), st.floats(0, 60),
)  # fmt: skip
def test_a_longer_deeper_or_more_bent_run_never_takes_less(method, soil, feet, more, cover, bend):
    bends = (Bend(feet / 2, bend, 60.0),) if bend else ()
    known = {"soil": soil, "bends": bends, "cover_ft": cover}
    plain = estimate(planned(method, length_ft=feet, **known))
    longer = estimate(planned(method, length_ft=feet + more, **known))
    straight = estimate(planned(method, length_ft=feet, **(known | {"bends": ()})))
    deeper = estimate(planned(method, length_ft=feet, **(known | {"cover_ft": cover + 1})))
    for other in (longer, deeper):
        assert other.expected_lbf >= plain.expected_lbf * (1 - 1e-9)
    assert straight.expected_lbf <= plain.expected_lbf * (1 + 1e-9)


def test_an_order_that_pulls_nothing_is_tried_out_as_if_it_were_slit():
    assert {method: pulled_as(method) for method in Method} == {
        Method.PULL_OUT: Method.PULL_OUT, Method.SPLIT: Method.SPLIT,
        Method.ROD_SPLIT: Method.ROD_SPLIT, Method.PIERCING: Method.SPLIT,
        Method.DRILLING: Method.SPLIT, Method.OPEN_CUT: Method.SPLIT,
    }  # fmt: skip
    with pytest.raises(ValueError, match="pulls nothing"):
        planned(Method.OPEN_CUT)
