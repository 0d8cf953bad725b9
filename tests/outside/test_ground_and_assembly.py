"""Clearance to other lines, heave, and the assembly's measured rows, against what is published.

The clearance rule and its two examples: International Pipe Bursting Association, Underground
Infrastructure, September 2011. The jaw set's tail, the closed gap and the cable's two diameters
are common practice, no source.
"""

import pytest

from replacements.domain.findings import Level
from replacements.domain.ground import (
    OtherLine,
    UtilityKind,
    check_clearances,
    clearance_in,
    heave_free_cover_ft,
)
from replacements.domain.tool_strings import Answer, CableEnd, check
from tests.replacements.domain.tools import DAY, NEW, OLD, as_built, judge_assembly, tools


@pytest.mark.parametrize(("head", "pipe", "inches"), [(12, 8, 40), (10, 8, 20)])
def test_clearance_of_the_published_examples(head, pipe, inches):
    assert clearance_in(head, pipe) == inches
    assert clearance_in(head, pipe, dense_ground=True) == 2 * inches


@pytest.mark.parametrize(("head", "bore"), [(1.25, 0.625), (1.625, 1.0)])
def test_service_lines_need_about_half_a_foot_before_any_floor(head, bore):
    assert clearance_in(head, bore) == pytest.approx(6.25)


@pytest.mark.parametrize(
    ("line", "rule"),
    [
        (OtherLine(UtilityKind.WATER, 39.9, exposed=True), "INSIDE_CLEARANCE"),
        (OtherLine(UtilityKind.WATER, 40.0), None),
        (OtherLine(UtilityKind.GAS, 39.9), "EXPOSE_FIRST"),
    ],
)
def test_both_sides_of_the_published_clearance(line, rule):
    found = [finding.rule for finding in check_clearances([line], 12, 8)]
    assert found == ([rule] if rule else [])


def test_the_surface_holds_at_ten_times_the_widening_and_two_feet():
    """The same rule turned upwards (derived)."""
    assert heave_free_cover_ft(12, 8) == pytest.approx(40 / 12)
    assert heave_free_cover_ft(1.25, 1.05) == 2.0


@pytest.mark.parametrize(
    ("row", "measured", "stops"),
    [
        ("CABLE_TAIL", 0.25, False),
        ("CABLE_TAIL", 0.375, True),
        ("NUT_GAP", 0.0, False),
        ("NUT_GAP", 0.01, True),
        ("WRENCHES", 1, True),
    ],
)
def test_the_jaw_set_is_closed_on_a_quarter_inch_of_tail(row, measured, stops):
    """Common practice, no source: more tail, or any gap, and the jaws are not seated."""
    answer = Answer(row, measured=measured, answered_by="R. Vale")
    found = judge_assembly([answer], jaw_faces=3, new_pipe_material="PE")
    judged = [f for f in found if f.rule == f"ASSEMBLY_{row}" and f.value is not None]
    assert bool(judged) == stops and all(f.level is Level.STOP for f in judged)


def test_the_thin_end_never_carries_the_pull_however_small_it_is():
    """Common practice, no source: it is for threading, and the step to it is the weak place."""
    turned = as_built(tools(), pulled_end=CableEnd.THIN)
    found = check(turned, OLD, NEW, length_ft=35, as_of=DAY, total_force_lbf=1.0)
    assert ("THIN_END_PULLED", Level.STOP) in [(f.rule, f.level) for f in found]
