"""A cable's inspection: what retires it by the federal criteria cannot pass."""

from datetime import date

import pytest

from replacements.forms.tools import InspectionForm
from replacements.operations.tools import ToolError, component_add, component_inspect
from tests.replacements.factories import AT, contractor

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
        inspected(cable, colour="red")


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
