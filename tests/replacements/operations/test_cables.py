"""Cables and the catalog: what retires one cannot pass; an entry is corrected, not rewritten."""

from datetime import date

import pytest

from replacements.forms.tools import ComponentForm, InspectionForm
from replacements.operations.tools import (
    ToolError,
    component_add,
    component_correct,
    component_inspect,
    component_retire,
)
from replacements.queries.gate import start_findings
from tests.replacements.factories import (
    AT,
    DAY,
    LATER,
    contractor,
    order,
    safe_answers,
    string,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def cable():
    """Return a 3/8 in. 7x19 cable: 133 wires, 19 to a strand."""
    return component_add(
        contractor=contractor(), kind="CABLE", mark="C-1", by="o", at=AT,
        dimensions={"pulling_end_in": 0.375, "length_ft": 100, "construction": "7X19 GALVANIZED",
                    "breaking_force_lbf": 14400},
    )  # fmt: skip


def inspected(cable, passed=True, **seen):
    """Return an inspection that saw this of the cable."""
    return component_inspect(
        component=cable, inspected_on=date(2028, 3, 1), inspected_by="Rowan Fell", passed=passed,
        findings={"rope": seen}, by="o", at=AT,
    )  # fmt: skip


# 29 CFR 1926.1413(a)(4): 6 in a lay, 3 in a strand of running rope, over 2 in a lay of standing
# rope; 30 CFR 56.19024: over 6 percent of the diameter, over a third of the outer wires.
@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ({"broken_wires_in_lay": 6}, "6 broken wires in one lay.*1926.1413"),
        ({"broken_wires_in_strand": 3}, "3 broken wires in one strand.*1926.1413"),
        ({"broken_wires_in_lay": 3}, "1926.1413 standing"),
        ({"diameter_in": 0.35}, "6.7% of the diameter lost.*56.19024"),
        ({"outer_wire_wear": 0.4}, "outer wires.*56.19024"),
        ({"birdcaged": True}, "birdcaging.*1926.1413"),
        ({"spliced": True}, "severed ends"),
    ],
)
def test_what_retires_a_cable_cannot_pass_and_a_failure_keeps_the_reason(cable, seen, said):
    with pytest.raises(ToolError, match=said):
        inspected(cable, **seen)
    assert not cable.inspections.exists()
    kept = inspected(cable, passed=False, **seen)
    assert kept.findings["rope"] == seen and kept.findings["retire"]


@pytest.mark.parametrize(
    "seen",
    [{"broken_wires_in_lay": 2}, {"broken_wires_in_strand": 2}, {"diameter_in": 0.353}, {}],
)
def test_a_cable_below_every_criterion_passes(cable, seen):
    assert inspected(cable, **seen).passed


def test_a_figure_that_cannot_be_is_refused(cable):
    with pytest.raises(ToolError, match="thicker than the cable"):
        inspected(cable, diameter_in=9.5)
    with pytest.raises(ToolError, match="only broken wires"):
        inspected(cable, color="red")


def test_a_cable_that_fails_after_the_string_was_checked_stops_the_start():
    work = order(joints=[])
    made = string(work)
    cable = made.parts.get(component__kind="CABLE").component
    found = [f.rule for f in start_findings(work, safe_answers(), DAY)]
    assert "INSPECTION_FAILED" not in found
    component_inspect(
        component=cable, inspected_on=DAY, inspected_by="Rowan Fell", passed=False,
        findings={"rope": {"kinked": True}}, by="o", at=LATER,
    )  # fmt: skip
    stops = [f.rule for f in start_findings(work, safe_answers(), DAY) if f.level == "STOP"]
    assert "INSPECTION_FAILED" in stops


def test_an_entry_is_corrected_with_a_reason_and_kept_as_it_was(cable):
    told = {"by": "heron", "at": AT, "reason": "read off the certificate"}
    with pytest.raises(ToolError, match="Nothing is different"):
        component_correct(component=cable, **told)
    with pytest.raises(ToolError, match="above 0"):
        component_correct(component=cable, dimensions={"length_ft": -5}, **told)
    with pytest.raises(ToolError, match="Say why"):
        component_correct(component=cable, rated_lbf=1.0, **told | {"reason": " "})
    right = dict(cable.dimensions, breaking_force_lbf=13900)
    change = component_correct(component=cable, dimensions=right, **told)
    cable.refresh_from_db()
    assert cable.dimensions["breaking_force_lbf"] == 13900
    assert change.before["dimensions"]["breaking_force_lbf"] == 14400
    component_retire(component=cable, reason="old", by="o", at=AT)
    with pytest.raises(ToolError, match="stays so"):
        component_correct(component=cable, rated_lbf=1.0, **told)


def test_the_form_of_a_correction_comes_back_as_the_entry_stands(cable):
    form = ComponentForm.of(cable)
    given = {field.name: field.value() or "" for field in form} | {"reason": "x"}
    again = ComponentForm(given, tool=cable)
    assert again.is_valid(), again.errors
    assert again.values()["dimensions"] == cable.dimensions


def test_the_form_asks_a_cable_for_its_wires_and_a_blade_for_none():
    day = {"inspected_on": "2028-03-01", "inspected_by": "R", "passed": "on"}
    form = InspectionForm(
        day | {"broken_wires_in_lay": "4", "outer_wire_wear_percent": "10", "kinked": "on"},
        kind="CABLE",
    )
    assert form.is_valid()
    seen = {"broken_wires_in_lay": 4, "kinked": True, "outer_wire_wear": 0.1}
    assert form.values()["findings"]["rope"] == seen
    assert "kinked" not in InspectionForm(day, kind="BLADE").fields
