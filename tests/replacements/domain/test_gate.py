"""The gate of a start: every way round it is closed, and each finding says who may do what."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as how
from hypothesis import strategies as st

from replacements.domain.findings import Finding, Level, worst
from replacements.domain.gate import (
    EstimateOnRecord,
    OrderOnRecord,
    StringOnRecord,
    ToolOnRecord,
    may_start,
    on_record,
)
from replacements.domain.methods import PULLED, Method
from replacements.domain.safety import (
    Excavation,
    JobSafety,
    LeadHandling,
    OneCallTicket,
    PullSetup,
)
from replacements.domain.tool_strings import Answer, JudgedRow, assembly_checks, judge_rows

DAY = date(2028, 5, 15)
PIT = Excavation(
    "pit at the main", 6.0, "trench box", egress_within_ft=8, spoil_setback_ft=3,
    inspected_on=DAY, inspected_by="competent person",
)  # fmt: skip
SETUP = PullSetup(
    free_cable_ft=20, exclusion_zone_ft=30, barriers_at_both_pits=True, spotter_with_radio=True,
    emergency_stop_tried=True, relief_set=True, gauge_calibrated_on=DAY - timedelta(days=100),
    bore_proved=True,
)  # fmt: skip
ANSWERS = JobSafety(
    (PIT,), OneCallTicket("28-1", DAY, DAY + timedelta(days=10), True),
    LeadHandling(True, "shear", True), SETUP, True, True, True,
)  # fmt: skip
STRING = StringOnRecord(7, (ToolOnRecord("cable C-1", True), ToolOnRecord("blade B-1", True)))
ESTIMATE = EstimateOnRecord(DAY, no_go=False, of_string=7)
GOOD = OrderOnRecord("SPLIT", string=STRING, estimate=ESTIMATE)


def stops(order, answers=ANSWERS):
    return {f.rule for f in may_start(order, answers, DAY) if f.level is Level.STOP}


def says(level, rule="SOME_RULE"):
    return (Finding(level, rule, "Something is so.", "constructed", "Do it."),)


def row(level):
    """Return a row of the checklist that was answered and failed, or that nobody answered."""
    check = next(row for row in assembly_checks() if row.stop)
    found = says(level, "ROW")[0] if level else says(Level.STOP, "ROW")[0]
    return JudgedRow(check, Answer(check.check, False) if level else None, found)


def test_a_pull_with_all_on_record_and_answered_has_nothing_against_it():
    assert may_start(GOOD, ANSWERS, DAY) == []


@pytest.mark.parametrize(
    ("order", "rule"),
    [
        (replace(GOOD, string=None), "NO_STRING"),
        (replace(GOOD, estimate=None), "NO_ESTIMATE"),
        (replace(GOOD, estimate=replace(ESTIMATE, no_go=True)), "ESTIMATE_NO_GO"),
        (replace(GOOD, estimate=replace(ESTIMATE, of_string=6)), "ESTIMATE_OF_ANOTHER_STRING"),
        (replace(GOOD, estimate=replace(ESTIMATE, of_string=None)), "ESTIMATE_OF_ANOTHER_STRING"),
        (replace(GOOD, estimate=replace(ESTIMATE, changed=("length",))), "ESTIMATE_OUT_OF_DATE"),
        (replace(GOOD, string=replace(STRING, findings=says(Level.STOP))), "SOME_RULE"),
        (replace(GOOD, string=replace(STRING, assembly=(row(Level.STOP),))), "ROW"),
        (replace(GOOD, string=replace(STRING, tools=(ToolOnRecord("jaws J-1"),))),
         "TOOL_NOT_INSPECTED"),
        (replace(GOOD, consent=says(Level.STOP)), "SOME_RULE"),
        (replace(GOOD, papers=says(Level.STOP)), "SOME_RULE"),
        (replace(GOOD, ground=says(Level.STOP)), "SOME_RULE"),
    ],
)  # fmt: skip
def test_each_thing_that_is_missing_or_wrong_stops_a_pull_and_nothing_else_does(order, rule):
    assert stops(order) == {rule}


def test_an_answer_that_leaves_the_pull_out_does_not_leave_its_questions_out():
    asked = stops(GOOD, replace(ANSWERS, pull=None))
    assert asked >= {"EXCLUSION_ZONE", "PULLER_GAUGE", "SPOTTER", "EMERGENCY_STOP", "RELIEF"}


@pytest.mark.parametrize("method", sorted(PULLED))
def test_every_pulled_method_needs_string_and_estimate(method):
    assert stops(OrderOnRecord(method)) == {"NO_STRING", "NO_ESTIMATE"}


def test_a_method_nobody_knows_counts_as_a_pull():
    assert stops(OrderOnRecord("TELEPORT")) == {"NO_STRING", "NO_ESTIMATE"}


@pytest.mark.parametrize("method", sorted(set(Method) - PULLED))
def test_an_open_cut_needs_no_cable_but_pits_ticket_line_and_the_house_ground(method):
    assert stops(OrderOnRecord(method), replace(ANSWERS, pull=None)) == set()
    assert stops(OrderOnRecord(method), JobSafety((), None, None)) == {
        "NO_EXCAVATION", "ONE_CALL", "LEAD_HANDLING", "TRAFFIC_PLAN", "ISOLATION",
        "ELECTRICAL_GROUND",
    }  # fmt: skip


def judged(*answers):
    return replace(GOOD, string=replace(STRING, assembly=tuple(judge_rows(answers, jaw_faces=3))))


def test_rows_that_nobody_answered_are_one_stop_that_counts_them():
    found = [f for f in may_start(judged(), ANSWERS, DAY) if f.level is Level.STOP]
    assert [f.rule for f in found] == ["ASSEMBLY_OPEN"]
    asked = [row for row in assembly_checks() if row.stop and row.asked == "STRING"]
    assert found[0].message.startswith(f"{len(asked)} stop rows")


@pytest.mark.parametrize("row", [row for row in assembly_checks() if row.stop])
def test_a_stop_row_answered_no_is_a_stop_of_its_own_with_why_it_matters(row):
    order = judged(Answer(row.check, passed=False, answered_by="crew"))
    found = {f.rule: f for f in may_start(order, ANSWERS, DAY) if f.level is Level.STOP}
    assert row.why in found[f"ASSEMBLY_{row.check}"].message


def test_cautions_are_told_and_do_not_stop():
    found = may_start(replace(GOOD, ground=says(Level.CAUTION)), ANSWERS, DAY)
    assert [f.level for f in found] == [Level.CAUTION]


_level = st.sampled_from(Level)
_some = st.lists(_level, max_size=2).map(lambda ls: tuple(f for lv in ls for f in says(lv)))
_tool = st.builds(ToolOnRecord, st.just("tool"), st.booleans())
_string = st.builds(
    StringOnRecord,
    st.sampled_from((6, 7)),
    st.lists(_tool, max_size=3).map(tuple),
    _some,
    st.lists(st.builds(row, st.none() | _level), max_size=2).map(tuple),
)
_estimate = st.builds(
    EstimateOnRecord, st.just(DAY), st.booleans(), st.sampled_from((None, 6, 7)),
    st.sampled_from(((), ("soil",))),
)  # fmt: skip
_orders = st.builds(
    OrderOnRecord, st.sampled_from([*Method, "?"]), _some, _some, _some,
    st.none() | _string, st.none() | _estimate,
)  # fmt: skip


@how(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(_orders)
def test_no_pull_passes_with_anything_open_and_every_finding_names_who_may_act(order):
    found = may_start(order, ANSWERS, DAY)
    assert all(f.message and f.source and f.do and f.who for f in found)
    assert [f.level.rank for f in found] == sorted(f.level.rank for f in found)
    assert set(on_record(order)) <= set(found)
    string, made = order.string, order.estimate
    told = [*order.consent, *order.papers, *order.ground]
    clear = all(f.level is not Level.STOP for f in told)
    if order.method not in {"OPEN_CUT", "PIERCING", "DRILLING"}:
        clear = (
            clear
            and string is not None
            and all(f.level is not Level.STOP for f in string.findings)
            and all(row.finding.level is not Level.STOP for row in string.assembly)
            and all(tool.inspected for tool in string.tools)
            and made is not None
            and made.of_string == string.number
            and not (made.no_go or made.changed)
        )
    assert (worst(found) is not Level.STOP) == clear
