"""An order and a contractor's tools in the terms of the domain: pipes, string, pull."""

import math
from collections.abc import Iterable, Mapping
from datetime import date

from django.db.models import Max

from ..domain import pipes
from ..domain.pull_force import (
    Bend,
    Bore,
    Condition,
    Joint,
    JointKind,
    Limit,
    ParameterSet,
    PullCase,
)
from ..domain.tool_strings import (
    CableEnd,
    Facing,
    Kind,
    Part,
    StringCase,
    ToolString,
    component_from,
    strength,
)
from ..domain.tool_strings import Component as Tool
from ..models import (
    Component,
    ComponentInspection,
    PullRecord,
    ToolStringRecord,
    WorkOrder,
)

JAW_FACES = "jaw_faces"
USUAL_BORE_IN = 0.75
USUAL_GRADE = {"LEAD": "AA", "GALVANIZED": "SCH 40", "COPPER": "K"}


def old_pipe_of(order: WorkOrder) -> pipes.Pipe:
    """Return the old pipe: as measured if it was, else from the tables; see `assumed_of`.

    Raises
    ------
    PipeError: the tables have no such pipe, or the measured one cannot be.
    """
    bore = order.old_nominal_in or USUAL_BORE_IN
    if order.old_outside_in:
        return pipes.pipe_measured(order.old_material, bore, order.old_outside_in)
    grade = order.old_grade or USUAL_GRADE.get(order.old_material, "")
    return pipes.pipe(order.old_material, bore, grade)


def new_pipe_of(order: WorkOrder) -> pipes.Pipe:
    """Return the new pipe from the tables.

    Raises
    ------
    PipeError: the tables have no such pipe.
    """
    return pipes.pipe(order.new_material, order.new_nominal_in, order.new_grade)


def assumed_of(order: WorkOrder) -> frozenset[str]:
    """Return the inputs of an estimate that nobody measured on this line."""
    measured = order.old_nominal_in and (order.old_outside_in or order.old_grade)
    found = set() if measured else {"old_pipe"}
    return frozenset(found | ({"groundwater"} if order.groundwater is None else set()))


def expander_in_of(order: WorkOrder, string: ToolString, as_of: date) -> float:
    """Return the diameter of the string's expander; of the one planned for, where it has none.

    Raises
    ------
    PipeError: the tables have no such pipe.
    """
    case = string_case(order, string, as_of)
    return case.expander_in or _planned_expander_in(case)


def bends_of(order: WorkOrder) -> tuple[Bend, ...]:
    """Return the bends from the pit where the new pipe enters."""
    return tuple(
        sorted(Bend(float(row["station_ft"]), float(row["degrees"])) for row in order.bends)
    )


def joints_of(order: WorkOrder) -> tuple[Joint, ...]:
    """Return the joints known in the run.

    Raises
    ------
    ValueError: a kind is not one of `JointKind`.
    """
    return tuple(
        Joint(float(row["station_ft"]), kind=JointKind(row.get("kind", "WIPED")))
        for row in order.joints
    )


def tools_of(components: Iterable[Component], as_of: date | None = None) -> list[Tool]:
    """Return tools with their latest inspection; of cables also the highest force they carried.

    as_of : an inspection after this day is not yet known

    Reads the inspections of all, and the pulls of the cables, in one query each.
    """
    components = list(components)
    latest = _latest_inspections(components, as_of)
    carried = _highest_forces([c.pk for c in components if c.kind == Kind.CABLE])
    return [_tool(c, latest.get(c.pk), carried.get(c.pk)) for c in components]


def _latest_inspections(components: list[Component], as_of: date | None) -> dict:
    rows = ComponentInspection.objects.filter(component__in=[c.pk for c in components])
    if as_of is not None:
        rows = rows.filter(inspected_on__lte=as_of)
    return {row.component_id: row for row in rows.order_by("inspected_on", "id")}


def _highest_forces(cable_ids: list[int]) -> dict[int, float]:
    if not cable_ids:
        return {}
    rows = (
        PullRecord.objects.standing()
        .filter(tool_string__parts__component__in=cable_ids)
        .values_list("tool_string__parts__component")
        .annotate(peak=Max("peak_lbf"))
        .order_by()
    )
    return {pk: peak for pk, peak in rows if peak}


def _tool(component: Component, inspection, carried: float | None) -> Tool:
    known = {"rated_lbf": component.rated_lbf, "retired_on": component.retired_on}
    if carried:
        known["peak_force_lbf"] = carried
    if inspection is not None:
        known |= {
            "inspected_on": inspection.inspected_on,
            "passed": inspection.passed,
            "due_on": inspection.next_due_on,
        }
        if inspection.findings.get("wear"):
            known["wear"] = inspection.findings["wear"]
    return component_from(
        component.kind, component.mark, tool_dimensions(component.dimensions), **known
    )


def tool_dimensions(dimensions: Mapping) -> dict:
    """Return what a string's checks read of a tool; faces of jaws are for the checklist."""
    return {name: value for name, value in dimensions.items() if name != JAW_FACES}


def string_of(record: ToolStringRecord, as_of: date | None = None) -> ToolString:
    """Return the recorded string in order; a part that cannot be read is refused by its name."""
    rows = list(record.parts.select_related("component").order_by("position"))
    tools = tools_of([row.component for row in rows], as_of)
    return tool_string_of(
        [(tool, row.orientation) for tool, row in zip(tools, rows, strict=True)],
        record.pulled_end,
    )


def tool_string_of(parts: Iterable[tuple[Tool, str]], pulled_end: str) -> ToolString:
    """Return tools with their orientations as a string.

    Raises
    ------
    ValueError: an orientation or a cable end is none that there is.
    """
    return ToolString(
        tuple(Part(tool, Facing(facing) if facing else None) for tool, facing in parts),
        CableEnd(pulled_end),
    )


def string_case(order: WorkOrder, string: ToolString, as_of: date, estimate=None) -> StringCase:
    """Return what the string is checked against; the forces of an estimate where there is one."""
    known = {}
    if estimate is not None:
        known["total_force_lbf"] = estimate.high_lbf
        known["drag_lbf"] = estimate.result.get("drag_high_lbf")
    return StringCase(
        tool_string=string,
        old_pipe=old_pipe_of(order),
        new_pipe=new_pipe_of(order),
        length_ft=order.length_ft,
        as_of=as_of,
        run_materials=tuple(
            kind for kind in {str(row.get("kind", "WIPED")) for row in order.joints}
            if kind in ("BRASS", "STEEL")
        ),
        **known,
    )  # fmt: skip


def limits_of(case: StringCase, anchor_lbf: float | None) -> dict[str, float | None]:
    """Return the allowable load of each part that carries the total; None where unrated.

    A part that this string does not have carries nothing and limits nothing.
    """
    rated: dict[str, float] = {}
    for limit in strength(case).total:
        if limit.kind in set(Limit):
            rated[limit.kind] = min(limit.limit_lbf, rated.get(limit.kind, math.inf))
    present = {part.component.kind.value for part in case.tool_string.parts}
    limits = {
        limit.value: rated.get(limit.value)
        if limit.value in present or limit in _NEVER_ABSENT
        else math.inf
        for limit in Limit
    }
    limits[Limit.ANCHOR.value] = anchor_lbf
    return limits


_NEVER_ABSENT = (Limit.CABLE, Limit.JAW_SET, Limit.PULLER)


def case_kept(
    order: WorkOrder, string: ToolString, as_of: date, anchor_lbf, conditions: Iterable[str] = ()
) -> dict:
    """Return the inputs of an estimate as the record keeps them; `case_back` reads them."""
    case = string_case(order, string, as_of)
    old, new = case.old_pipe, case.new_pipe
    kinds = {part.component.kind for part in string.parts}
    return {
        "old_pipe": [old.inside_in, old.outside_in, old.material, old.label],
        "new_pipe": [new.inside_in, new.outside_in, new.material, new.label],
        "new_weight_lb_ft": new.weight_lb_per_ft,
        "expander_in": case.expander_in or _planned_expander_in(case),
        "length_ft": order.length_ft,
        "cover_ft": order.cover_ft,
        "soil": order.soil,
        "bends": [list(bend) for bend in bends_of(order)],
        "joints": [[joint.station_ft, joint.kind.value] for joint in joints_of(order)],
        "groundwater": bool(order.groundwater),
        "spacer": not kinds or Kind.SPACER in kinds,
        "limits_lbf": kept_limits(limits_of(case, anchor_lbf)),
        "pipe_allowable_lbf": pipes.allowable_pull_lbf(new, case.minutes),
        "grip_efficiency": _grip_efficiency(case),
        "minutes": case.minutes,
        "assumed": sorted(assumed_of(order) | ({"expander_in"} if not kinds else set())),
        "snaking_deg_per_10_ft": order.snaking_deg_per_10_ft or 0.0,
        "conditions": sorted({*conditions, *_string_conditions(string)}),
    }  # fmt: skip


def _string_conditions(string: ToolString) -> set[str]:
    return {Condition.THIN_END_PULLED.value} if string.pulled_end is CableEnd.THIN else set()


def _planned_expander_in(case: StringCase) -> float:
    aimed = case.limits.expander_aim * case.new_pipe.outside_in
    return max(aimed, case.old_pipe.inside_in + 0.125)


def _grip_efficiency(case: StringCase) -> float | None:
    puller = case.first(Kind.PIPE_PULLER)
    if puller is None or not puller.grip:
        return None
    try:
        return pipes.grip_efficiency(puller.grip) or None
    except pipes.UnknownPipe:
        return None


def case_back(kept: dict, constants: ParameterSet | None = None) -> PullCase:
    """Return the pull that kept inputs describe, by the shipped constants or those given.

    Raises
    ------
    ValueError: an input cannot be; the sentence says which.
    """
    old, new = kept["old_pipe"], kept["new_pipe"]
    return PullCase(
        old_pipe=Bore(old[0], old[1]),
        new_pipe=Bore(new[0], new[1]),
        old_material=old[2],
        pipe_weight_lb_ft=kept["new_weight_lb_ft"],
        limits_lbf={name: _unkept(value) for name, value in kept["limits_lbf"].items()},
        bends=tuple(Bend(*bend) for bend in kept["bends"]),
        joints=tuple(Joint(at, kind=JointKind(kind)) for at, kind in kept["joints"]),
        assumed=frozenset(kept["assumed"]),
        conditions=frozenset(Condition(c) for c in kept["conditions"]),
        snaking_deg_per_10_ft=kept.get("snaking_deg_per_10_ft", 0.0),
        constants=constants or ParameterSet(),
        **{name: kept[name] for name in _AS_THEY_ARE},
    )


_NOT_IN_STRING = "not in this string"
_AS_THEY_ARE = (
    "expander_in length_ft cover_ft soil groundwater spacer pipe_allowable_lbf "
    "grip_efficiency minutes"
).split()


def _unkept(value):
    return math.inf if value == _NOT_IN_STRING else value


def kept_limits(limits: dict) -> dict:
    """Return limits as JSON can hold them: a part that is not in the string says so."""
    return {name: _NOT_IN_STRING if value == math.inf else value for name, value in limits.items()}
