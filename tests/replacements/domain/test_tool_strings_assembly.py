"""The assembly checklist; trade facts are common practice, no source."""

import pytest

from replacements.domain.findings import Level
from replacements.domain.tool_strings import (
    Answer,
    UnknownCheck,
    assembly_checks,
    checks_for,
)
from tests.replacements.domain.tools import judge_assembly

MEASURED = {
    "CABLE_TAIL": 0.25,
    "NUT_GAP": 0,
    "WRENCHES": 2,
    "RETAINING_NUT_TORQUE": 60,
    "SEAT_MOVEMENT": 0.03,
}
FACES = 3


def answers(**changed):
    """All answered well by one person, but for what is changed; None leaves a row out."""
    found = {}
    for check in assembly_checks():
        value = FACES if check.answer == "FACES" else MEASURED.get(check.check)
        found[check.check] = Answer(check.check, True, value, "R. Vale", "2027-05-03T08:40")
    for name, value in changed.items():
        if isinstance(value, bool):
            found[name] = Answer(name, passed=value, answered_by="R. Vale")
        elif value is None:
            del found[name]
        else:
            found[name] = Answer(name, measured=value, answered_by="R. Vale")
    return list(found.values())


def judged(**changed):
    findings = judge_assembly(answers(**changed), jaw_faces=FACES, new_pipe_material="PE")
    return {finding.rule.removeprefix("ASSEMBLY_"): finding for finding in findings}


def test_a_good_assembly_leaves_nothing_to_say():
    assert judged() == {}


@pytest.mark.parametrize("tail", [0.125, 0.2, 0.25])
def test_a_tail_of_an_eighth_to_a_quarter_passes(tail):
    assert judged(CABLE_TAIL=tail) == {}


@pytest.mark.parametrize(
    ("tail", "advice"),
    [(0.26, "Stop"), (0.375, "Stop"), (0.1, "seat it again"), (0, "seat it again")],
)
def test_more_tail_than_a_quarter_stops_and_less_than_an_eighth_is_redone(tail, advice):
    """Common practice, no source: with more the jaws don't seat and the pipe may stay behind."""
    found = judged(CABLE_TAIL=tail)["CABLE_TAIL"]
    assert found.level is Level.STOP and advice in found.do and found.value == tail


def test_any_gap_at_the_nut_stops():
    """Common practice, no source."""
    assert judged(NUT_GAP=0.01)["NUT_GAP"].level is Level.STOP


def test_hand_tight_is_not_enough():
    """Common practice, no source: two wrenches."""
    assert judged(WRENCHES=1)["WRENCHES"].level is Level.STOP
    assert judged(WRENCHES=0)["WRENCHES"].level is Level.STOP


def test_anti_seize_goes_on_every_face():
    """Common practice, no source."""
    found = judged(ANTI_SEIZE=2)["ANTI_SEIZE"]
    assert found.level is Level.STOP and "2 of 3 faces" in found.message
    unknown = judge_assembly(answers(), new_pipe_material="PE")
    assert [f.rule for f in unknown] == ["ASSEMBLY_ANTI_SEIZE"]


@pytest.mark.parametrize("row", ["BLADE_FACING", "PULLING_END", "COLLAR", "CLEVIS"])
def test_rows_of_the_trade_that_stop(row):
    """Common practice, no source."""
    assert judged(**{row: False})[row].level is Level.STOP
    assert judged(**{row: None})[row].level is Level.STOP


@pytest.mark.parametrize("row", ["TRACER_WIRE", "SPACER", "O_RINGS", "SPARE_END"])
def test_rows_of_the_trade_that_ask_for_a_decision(row):
    """Common practice, no source."""
    assert judged(**{row: False})[row].level is Level.CAUTION


def test_copper_needs_no_tracer_wire():
    assert "TRACER_WIRE" in {check.check for check in checks_for("PE")}
    assert "TRACER_WIRE" not in {check.check for check in checks_for("COPPER")}


def test_seat_movement_under_preload():
    assert judged(SEAT_MOVEMENT=0.0625) == {}
    assert judged(SEAT_MOVEMENT=0.07)["SEAT_MOVEMENT"].level is Level.CAUTION


def test_nothing_answered_stops_on_every_stop_row():
    found = judge_assembly([], new_pipe_material="PE")
    stops = [f for f in found if f.level is Level.STOP]
    assert len(found) == len(checks_for("PE"))
    assert len(stops) == sum(check.stop for check in checks_for("PE"))
    assert found[: len(stops)] == stops


@pytest.mark.parametrize("value", [-0.25, float("nan"), float("inf")])
def test_a_measure_that_cannot_be_is_no_answer(value):
    assert "no measured value" in judged(CABLE_TAIL=value)["CABLE_TAIL"].message


def test_passed_by_eye_without_a_measure_is_no_answer():
    assert judged(CABLE_TAIL=True)["CABLE_TAIL"].level is Level.STOP


def test_an_answer_carries_a_name():
    nameless = [a for a in answers() if a.check != "CLEVIS"] + [Answer("CLEVIS", passed=True)]
    found = judge_assembly(nameless, jaw_faces=FACES)
    assert [f.rule for f in found] == ["ASSEMBLY_CLEVIS"] and "no name" in found[0].message


def test_the_last_answer_counts():
    again = [*answers(CABLE_TAIL=0.5), Answer("CABLE_TAIL", measured=0.25, answered_by="R. Vale")]
    assert judge_assembly(again, jaw_faces=FACES) == []


def test_an_unknown_row_is_refused():
    with pytest.raises(UnknownCheck, match="no row PAINT"):
        judge_assembly([Answer("PAINT", passed=True)])


def test_every_row_says_why_and_whence():
    for check in assembly_checks():
        assert check.why and check.source and check.criterion
        assert check.answer in ("YES", "NUMBER", "FACES")


@pytest.mark.parametrize("check", assembly_checks(), ids=lambda check: check.check)
def test_a_row_answered_no_says_what_to_do_in_a_whole_sentence(check):
    found = judge_assembly(answers(**{check.check: False}), jaw_faces=FACES)
    (do,) = [f.do for f in found if f.rule == f"ASSEMBLY_{check.check}"]
    assert do.startswith("Put it right, look again and answer the row anew")
    assert ("asked is" in do) is not check.criterion.endswith("seen")
