"""Pipes and how hard they may be pulled; the published figures are in tests/outside."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.pipes import (
    MATERIALS,
    BadPipe,
    NotPullable,
    UnknownPipe,
    allowable_pull_lbf,
    grades_of,
    grip_efficiency,
    lead_outside_in,
    pipe,
    pipe_measured,
    sizes_of,
    weight_lb_per_ft,
)
from replacements.domain.reference_tables import MARKS, rows

EVERY = [(m, s, g) for m in MATERIALS for g in grades_of(m) for s in sizes_of(m, g)]
PE = pipe("PE", 1.0, "CTS SDR 9")


@pytest.mark.parametrize(("material", "size", "grade"), EVERY)
def test_every_pipe_of_the_tables_is_whole(material, size, grade):
    found = pipe(material, size, grade)
    assert 0 < found.inside_in < found.outside_in
    assert found.outside_in - found.inside_in == pytest.approx(2 * found.wall_in)
    assert found.source and found.mark in MARKS
    assert found.area_in2 > 0 and found.weight_lb_per_ft > 0


def test_a_size_in_another_spelling_of_case_and_spaces_is_found():
    assert pipe("pe", 1, "cts  sdr 9") == PE


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (("CLAY", 1, "A"), "There are: LEAD, COPPER, PE, PEX, GALVANIZED"),
        (("COPPER", 1, "M"), r"COPPER has no grade 'M'. There are: K, L\."),
        (("COPPER", 3, "K"), "has no size 3 in. There are: 1/2 in., 5/8 in., 3/4 in."),
        (("LEAD", 2, "TABLE LIGHT"), "does not close"),
    ],
)
def test_what_no_table_holds_lists_what_there_is(asked, sentence):
    with pytest.raises(UnknownPipe, match=sentence):
        pipe(*asked)


def test_the_row_that_contradicts_itself_is_not_offered():
    assert 2.0 not in sizes_of("LEAD", "TABLE LIGHT")
    assert 2.0 in sizes_of("LEAD", "TABLE HEAVY")


def test_a_measured_pipe_has_its_own_area_and_no_collar_type():
    measured = pipe_measured("LEAD", 0.72, 1.2)
    assert measured.wall_in == pytest.approx(0.24)
    assert measured.weight_lb_per_ft == pytest.approx(4.92 * math.pi / 4 * (1.2**2 - 0.72**2))
    assert measured.fitting_type is None


@pytest.mark.parametrize("sizes", [(1.2, 0.72), (0, 1), (-1, 1), (1, float("nan"))])
def test_a_bore_outside_its_pipe_is_refused(sizes):
    with pytest.raises(BadPipe, match="cannot be"):
        pipe_measured("LEAD", *sizes)


@given(st.floats(0.2, 3), st.floats(0.3, 15))
def test_outside_from_weight_gives_the_weight_back(bore, weight):
    outside = lead_outside_in(bore, weight)
    assert weight_lb_per_ft("LEAD", outside, bore) == pytest.approx(weight)


@pytest.mark.parametrize("old", [pipe("LEAD", 0.75, "AA"), pipe("GALVANIZED", 0.75, "SCH 40")])
def test_lead_and_galvanized_steel_cannot_be_a_new_pipe(old):
    with pytest.raises(NotPullable, match="cannot be a new pipe: choose one of COPPER, PE, PEX"):
        allowable_pull_lbf(old)


@pytest.mark.parametrize(
    ("known", "sentence"),
    [
        ({"minutes": 0}, "0 minutes"),
        ({"minutes": 1441}, "longer than the 24 h"),
        ({"temperature_f": 121}, "ends at 120 F"),
        ({"temperature_f": float("nan")}, "gives no strength"),
    ],
)
def test_beyond_the_table_no_strength_is_given(known, sentence):
    with pytest.raises(NotPullable, match=sentence):
        allowable_pull_lbf(PE, **known)


def test_an_unknown_resin_or_grip_lists_what_there_is():
    with pytest.raises(UnknownPipe, match="PE2406, PE2708, PE3408, PE3608, PE4710"):
        allowable_pull_lbf(PE, resin="PE100")
    with pytest.raises(UnknownPipe, match="BASKET, PLUG_COLLAR, PULL_HEAD, JOINT"):
        allowable_pull_lbf(PE, grip="TAPE")


def test_cold_gives_no_credit_and_heat_takes_strength_away():
    at = [allowable_pull_lbf(PE, temperature_f=f) for f in (20, 73, 86.5, 100, 120)]
    assert at[0] == at[1]
    assert at[2] == pytest.approx(0.89 * at[1])  # halfway between 1.00 and 0.78
    assert at[3] == pytest.approx(0.78 * at[1]) and at[4] == pytest.approx(0.63 * at[1])


@given(st.floats(1, 1440), st.floats(1, 1440), st.floats(0, 120), st.floats(0, 120))
def test_longer_and_hotter_never_allow_more(minutes, more_minutes, warm, warmer):
    shorter, longer = sorted((minutes, more_minutes))
    cool, hot = sorted((warm, warmer))
    assert allowable_pull_lbf(PE, longer, temperature_f=hot) <= allowable_pull_lbf(
        PE, shorter, temperature_f=cool
    )


def test_each_step_of_time_is_taken_at_its_own_end():
    hour, half_day = allowable_pull_lbf(PE, 60), allowable_pull_lbf(PE, 720)
    assert allowable_pull_lbf(PE, 60.1) == half_day < hour
    assert allowable_pull_lbf(PE, 720.1) == allowable_pull_lbf(PE, 1440) < half_day


def test_copper_factor_keeps_to_its_range():
    tube = pipe("COPPER", 0.75, "K")
    assert allowable_pull_lbf(tube, copper_factor=0.67) > allowable_pull_lbf(tube)
    for factor in (0.39, 0.68, 1.0):
        with pytest.raises(NotPullable, match="outside 0.4 to 0.67"):
            allowable_pull_lbf(tube, copper_factor=factor)


def test_pex_is_held_to_the_weakest_resin():
    pex, pe = pipe("PEX", 1, "CTS SDR 9"), PE
    assert allowable_pull_lbf(pex, resin="PE4710") == allowable_pull_lbf(pe, resin="PE2708")


def test_a_grip_takes_its_share_and_a_joint_all():
    assert allowable_pull_lbf(PE, grip="BASKET") == pytest.approx(0.6 * allowable_pull_lbf(PE))
    assert allowable_pull_lbf(PE, grip="JOINT") == 0
    for row in rows("grips"):
        low, high = float(row["low"]), float(row["high"])
        assert low <= grip_efficiency(row["code"]) <= high
