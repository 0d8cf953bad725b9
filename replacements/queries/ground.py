"""The ground of an order's run: what is on record, and what the rules say of it."""

from datetime import date

from services_inventory.asked_once import once

from ..domain.findings import Finding, Level
from ..domain.ground import GroundCondition, GroundOfRun, Surface, check_ground
from ..domain.method_advice import Site
from ..domain.methods import Method
from ..domain.pipes import PipeError
from ..domain.pull_force import Condition
from ..domain.pull_force.verdict import Verdict
from ..domain.tool_strings import BadComponent, ToolString
from ..models import WorkOrder
from .planned_pull import bends_of, expander_in_of, joints_of, new_pipe_of, old_pipe_of, string_of
from .together import last_of, rows_of

_PAVED = {Surface.PAVEMENT, Surface.SLAB, Surface.BRICK_WALK, Surface.DRIVEWAY}


@once
def ground_of(order: WorkOrder, as_of: date, method: str = "") -> GroundOfRun:
    """Return what is on record of an order's ground, for its own method or another.

    A new bore is widened from nothing; a drill takes its ground out, a trench widens nothing.

    Raises
    ------
    PipeError: the tables have no such pipe.
    """
    old = old_pipe_of(order)
    widened, hole_in = _widened(order, method or order.method, old.inside_in, as_of)
    return GroundOfRun(
        expander_in=widened,
        hole_in=hole_in,
        old_outside_in=0.0 if hole_in == 0 else old.outside_in,
        cover_ft=order.cover_ft,
        lines=tuple(row.as_other_line for row in lines_near(order)),
        looked_for=order.other_lines_looked_for_on is not None,
        surfaces=frozenset(Surface(code) for code in order.surfaces),
        conditions=frozenset(GroundCondition(code) for code in order.ground_conditions),
        required_cover_ft=order.required_cover_ft,
        frozen_to_ft=order.frozen_to_ft or 0.0,
    )


def lines_near(order: WorkOrder) -> list:
    """Return the lines recorded near the run that stand, in the order they were recorded."""
    return [row for row in rows_of(order, "nearby_lines") if row.withdrawn_at is None]


def _widened(
    order: WorkOrder, method: str, old_bore_in: float, as_of: date
) -> tuple[float | None, float]:
    """Return the diameter that passes and the hole it starts from, in."""
    if method == Method.OPEN_CUT:
        return None, 0.0
    new = new_pipe_of(order)
    if method == Method.PIERCING:
        return new.outside_in * _NEW_BORE, 0.0
    if method == Method.DRILLING:
        return new.outside_in * _NEW_BORE, new.outside_in * _NEW_BORE
    return expander_in_of(order, _latest_string(order, as_of), as_of), old_bore_in


_NEW_BORE = 1.25  # a piercing tool's bore over the pipe's diameter: 15 to 25 percent larger (ISTT)


def _latest_string(order: WorkOrder, as_of: date) -> ToolString:
    record = last_of(order, "tool_strings")
    try:
        return string_of(record, as_of) if record else ToolString()
    except BadComponent:
        return ToolString()


def ground_findings(order: WorkOrder, as_of: date, method: str = "") -> list[Finding]:
    """Return what the ground of an order says about its run, the worst first."""
    try:
        return check_ground(ground_of(order, as_of, method))
    except PipeError:
        return []


# What the crew settles by digging at the line: it holds back the start, not the order itself.
_DUG_UP_FIRST = {"SEPARATION_UNKNOWN", "EXPOSE_FIRST"}
_CROSSING_STOPS = _DUG_UP_FIRST | {"INSIDE_CLEARANCE"}


def ground_stops(order: WorkOrder, as_of: date) -> list[Finding]:
    """Return what in the ground forbids the work as ordered, whatever the crew digs up first."""
    return [
        found
        for found in ground_findings(order, as_of)
        if found.level is Level.STOP and found.rule not in _DUG_UP_FIRST
    ]


def conditions_of(order: WorkOrder, as_of: date) -> set[str]:
    """Return what an estimate of slitting must know of the ground, as codes of `Condition`."""
    findings = ground_findings(order, as_of, Method.SPLIT)
    found = {finding.rule for finding in findings}
    stops = {finding.rule for finding in findings if finding.level is Level.STOP}
    conditions = set(order.ground_conditions) & set(Condition)
    if stops & _CROSSING_STOPS:
        conditions.add(Condition.UNVERIFIED_CROSSING.value)
    if "FROZEN_AT_PIPE" in found:
        conditions.add(Condition.FROZEN_GROUND.value)
    if "OTHER_LINES_NOT_LOOKED_FOR" in found:
        conditions.add(Condition.OTHER_LINES_UNKNOWN.value)
    return conditions


def site_of(order: WorkOrder, as_of: date, verdict: str = "") -> Site | None:
    """Return what is known of the place for choosing a method; None while basics are missing."""
    if not (order.length_ft and order.cover_ft and order.soil):
        return None
    joints = joints_of(order)
    conditions = set(order.ground_conditions)
    known = conditions_of(order, as_of)
    return Site(
        old_pipe=old_pipe_of(order),
        length_ft=order.length_ft,
        cover_ft=order.cover_ft,
        soil=order.soil,
        old_material=order.old_material,
        bends_deg=sum(bend.degrees for bend in bends_of(order)),
        wiped_joints=sum(joint.kind.cuttable for joint in joints),
        uncuttable_joints=sum(not joint.kind.cuttable for joint in joints),
        threadable=_threadable(order),
        frozen=bool(order.frozen_to_ft and order.frozen_to_ft >= order.cover_ft),
        rock=GroundCondition.ROCK in conditions,
        hard_fill=bool(conditions & {"FLOWABLE_FILL", "CONCRETE"}),
        groundwater=bool(order.groundwater),
        congested=GroundCondition.CONGESTED in conditions,
        unverified_crossing=Condition.UNVERIFIED_CROSSING in known,
        new_route=GroundCondition.NO_NEW_ROUTE not in conditions,
        tight_yard=GroundCondition.TIGHT_YARD in conditions,
        paved=bool(set(order.surfaces) & _PAVED),
        road_crossing=GroundCondition.ROAD_CROSSING in conditions,
        open_works=GroundCondition.OPEN_WORKS in conditions,
        lead_must_leave=GroundCondition.LEAD_MUST_LEAVE in conditions,
        other_lines_looked_for=order.other_lines_looked_for_on is not None,
        force_verdict=Verdict(verdict) if verdict else None,
    )


def _threadable(order: WorkOrder) -> bool | None:
    if GroundCondition.NOT_THREADABLE in order.ground_conditions:
        return False
    setup = (order.safety or {}).get("answers", {}).get("pull") or {}
    return True if setup.get("bore_proved") else None
