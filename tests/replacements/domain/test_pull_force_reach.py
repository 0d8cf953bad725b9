"""The longest run and the relief setting: held to the estimate itself, and to a closed form."""

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.hydraulics import cylinder_force_lbf
from replacements.domain.pull_force import (
    Bend,
    Bore,
    Joint,
    Limit,
    PullCase,
    estimate,
    longest_run,
    relief_psi,
)
from tests.examples import examples

CASE = PullCase(
    old_pipe=Bore(0.75, 1.212),
    new_pipe=Bore(0.875, 1.125),
    expander_in=1.5,
    length_ft=60,
    cover_ft=5,
    soil="MEDIUM_SAND",
    bends=(Bend(20, 45),),
    limits_lbf=dict.fromkeys(Limit, 3840.0),
    pipe_allowable_lbf=190,
    grip_efficiency=0.8,
    pipe_weight_lb_ft=0.17,
)


def uses(length_ft, case=CASE):
    """Return every part's use at a length, bends beyond it left out."""
    bends = tuple(bend for bend in case.bends if bend.station_ft <= length_ft)
    return [check.use for check in estimate(replace(case, length_ft=length_ft, bends=bends)).checks]


def test_at_the_longest_run_the_limit_is_just_kept_and_two_inches_more_pass_it():
    reach = longest_run(CASE)
    assert 0 < reach.easy_ft < reach.most_ft < 60
    assert max(uses(reach.most_ft)) <= 1 < max(uses(reach.most_ft + 0.15))
    assert max(uses(reach.easy_ft)) <= 0.8 < max(uses(reach.easy_ft + 0.15))
    assert reach.held_by == "NEW_PIPE"


def test_without_bends_the_drag_alone_gives_the_length_in_closed_form():
    """Drag grows evenly with length where nothing bends: its limit over its use per foot."""
    straight = replace(CASE, bends=(), length_ft=10)
    per_ft = estimate(straight).drag.high_lbf / 10
    assert longest_run(straight).most_ft == pytest.approx(190 * 0.8 / per_ft, abs=0.3)


def test_a_head_that_is_too_hard_for_the_cable_leaves_no_run():
    weak = replace(CASE, limits_lbf=dict.fromkeys(Limit, 300.0))
    reach = longest_run(weak)
    assert (reach.easy_ft, reach.most_ft) == (0, 0)
    assert reach.held_by in set(Limit)


def test_a_joint_beyond_the_shorter_run_does_not_count():
    hard = replace(CASE, bends=(), joints=(Joint(12.0),), pipe_allowable_lbf=5000)
    assert longest_run(hard).most_ft == pytest.approx(12, abs=0.5)


def test_without_a_rating_nothing_is_said():
    assert longest_run(replace(CASE, pipe_allowable_lbf=None)) is None
    assert longest_run(replace(CASE, limits_lbf={})) is None


@examples(12)
@given(st.floats(0.3, 1.0))
def test_a_weaker_pipe_never_reaches_further(share):
    weaker = replace(CASE, pipe_allowable_lbf=190 * share)
    assert longest_run(weaker).most_ft <= reach_of_case()


@cache
def reach_of_case() -> float:
    return longest_run(CASE).most_ft


def test_at_the_relief_setting_the_cylinder_gives_the_limit_without_friction():
    psi = relief_psi(3840, 3.25, 1.5)
    assert cylinder_force_lbf(psi, 3.25, 1.5) == pytest.approx(3840)
    # 3.25 in. bore, 1.5 in. rod: 6.529 in2 net, so 588 psi
    assert psi == pytest.approx(3840 / 6.529, rel=1e-3)


@pytest.mark.parametrize(("limit", "bore"), [(None, 3.25), (3840, None), (0, 3.25)])
def test_no_setting_without_limit_and_cylinder(limit, bore):
    assert relief_psi(limit, bore, None) is None
