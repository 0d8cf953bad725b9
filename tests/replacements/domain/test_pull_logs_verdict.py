"""The verdict on a pull where the log itself is in doubt; limits, pipe check, settings."""

import io
from pathlib import Path

import pytest

from fixtures.pull_logs import synthetic_log
from replacements.domain.findings import Level
from replacements.domain.pull_logs import (
    LogVerdict,
    PullLogError,
    assess,
    examine,
    read,
    shipped_rules,
)
from replacements.domain.pull_logs import rules as rules_module
from tests.replacements.logs_made import make_clean_log


def log_of(text):
    return read(io.BytesIO(text.encode()))


def rules_of(assessment):
    return {finding.rule for finding in assessment.reasons}


@pytest.fixture(scope="module")
def clean():
    return log_of(make_clean_log())


def test_units_nobody_named_wait_for_a_person():
    text = make_clean_log().replace(
        "Time (s),Force (lbf),Distance (ft)", "Time,Force,Distance (ft)"
    )
    judged = assess(log_of(text), 35, 3840, joints_ft=[12])
    assert judged.verdict == LogVerdict.HOLD
    assert rules_of(judged) == {"UNIT_ASSUMED"}


def test_no_allowable_waits(clean):
    assert rules_of(assess(clean, 35, None, joints_ft=[12])) == {"NO_LIMIT"}


def test_standing_still_over_the_allowable_is_rejected():
    rows = "\n".join(f"{i},4000,0" for i in range(60))
    judged = assess(log_of(f"Time (s),Load (lbf),Distance (ft)\n{rows}\n"), 35, 3840)
    assert judged.verdict == LogVerdict.REJECT
    assert {"OVER_ALLOWABLE", "NO_MOTION"} <= rules_of(judged)


def test_missing_samples_wait():
    lines = make_clean_log().splitlines()
    judged = assess(log_of("\n".join(lines[:100] + lines[300:])), 35, 3840, joints_ft=[12])
    assert "MISSING_SAMPLES" in rules_of(judged)


def test_psi_read_as_pounds_is_noticed():
    text = synthetic_log(35, force_start_lbf=40, force_end_lbf=55, noise_lbf=2, pause_force_lbf=3)
    assert "LOW_FORCE" in rules_of(assess(log_of(text), 35, 3840))


@pytest.mark.parametrize(
    ("interval_s", "rule"),
    [(1, None), (2, "SLOW_SAMPLING"), (5, "SLOW_SAMPLING"), (6, "TOO_SPARSE")],
)
def test_sampling(interval_s, rule):
    text = synthetic_log(35.4, interval_s=interval_s, stroke_ft=None, rest_s=12)
    judged = assess(log_of(text), 35, 3840)
    said = {f.rule for f in judged.findings} & {"SLOW_SAMPLING", "TOO_SPARSE"}
    assert said == ({rule} if rule else set())
    assert (judged.verdict == LogVerdict.HOLD) is (rule == "TOO_SPARSE")


def test_every_threshold_is_used():
    app = Path(rules_module.__file__).parents[2]
    code = "".join(path.read_text() for path in app.rglob("*.py"))
    assert [key for key in shipped_rules().thresholds if f'"{key}"' not in code] == []


def test_pipe_check_holds_unless_measured():
    text = synthetic_log(40, force_start_lbf=800, force_end_lbf=1600, stroke_ft=None)
    log = log_of(text)
    judged = assess(log, 40, 3840, pipe_allowable_lbf=550)
    assert rules_of(judged) == {"PIPE_CHECK"}
    assert judged.metrics.pipe_tension_lbf == pytest.approx(800, rel=0.05)
    assert assess(log, 40, 3840, pipe_allowable_lbf=900).verdict == LogVerdict.ACCEPT
    measured = assess(log, 40, 3840, pipe_allowable_lbf=550, pipe_force_measured=True)
    assert measured.verdict == LogVerdict.ACCEPT


def test_cable_over_half_its_breaking_force_is_retired(clean):
    judged = assess(clean, 35, 3840, joints_ft=[12], breaking_force_lbf=3799)
    assert rules_of(judged) == {"CABLE_OVERLOAD"}
    assert assess(clean, 35, 3840, joints_ft=[12], breaking_force_lbf=3801).reasons == ()


@pytest.mark.parametrize(("limit", "rule"), [(1900, None), (1899.9, "OVER_ALLOWABLE")])
def test_the_allowable_itself_is_allowed(clean, limit, rule):
    judged = assess(clean, 35, limit, joints_ft=[12])
    assert rules_of(judged) == ({rule} if rule else set())


@pytest.mark.parametrize(("length", "completed"), [(33.3, True), (37.2, True), (33.1, False)])
def test_length_may_differ_by_two_feet(clean, length, completed):
    rules = rules_of(assess(clean, length, 3840, joints_ft=[12]))
    assert rules == (set() if completed else {"LENGTH_LONG"})


def test_log_that_ends_under_load():
    lines = make_clean_log().splitlines()
    cut = next(i for i in range(200, 300) if float(lines[i].split(",")[1]) > 500)
    judged = assess(log_of("\n".join(lines[: cut + 1])), 35, 3840, joints_ft=[12])
    assert {"ENDED_LOADED", "LENGTH_SHORT"} == rules_of(judged)


def test_log_that_ends_at_rest_in_mid_line_is_taken_for_a_broken_cable():
    """Whether the crew paused or the cable broke cannot be seen: the graver reading holds."""
    lines = make_clean_log().splitlines()
    cut = next(i for i in range(200, 300) if float(lines[i].split(",")[1]) == 50)
    judged = assess(log_of("\n".join(lines[: cut + 1])), 35, 3840, joints_ft=[12])
    assert {"CABLE_BREAK", "LENGTH_SHORT"} == rules_of(judged)


def test_a_utility_sets_its_own_thresholds(clean):
    assert (
        assess(clean, 35, 3840, rules={"spike_unexplained_ratio": 3.0}).verdict == LogVerdict.ACCEPT
    )
    with pytest.raises(PullLogError, match="may be set"):
        assess(clean, 35, 3840, rules={"near_limit_share": 2.0})


@pytest.mark.parametrize(("length", "limit"), [(0, 3840), (-5, 3840), (35, 0), (35, float("nan"))])
def test_impossible_facts(clean, length, limit):
    with pytest.raises(PullLogError, match="above zero"):
        assess(clean, length, limit)


def test_every_finding_says_where_from(clean):
    for finding in examine(clean, 60, 1500, breaking_force_lbf=3000, pipe_allowable_lbf=1):
        assert finding.message
        assert finding.source
        assert finding.do or finding.level == Level.NOTE
