"""An order and a contractor's tools in the terms of the domain: pipes, string, pull."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from types import MappingProxyType

from django.utils.timezone import localdate

from services_inventory.asked_once import once, settled

from ..domain import pipes
from ..domain.methods import pulled_as
from ..domain.pull_force import Bend, Joint, JointKind, SoilFamily, soils
from ..domain.tool_strings import (
    BadComponent,
    CableEnd,
    Facing,
    Part,
    StringCase,
    StringLimits,
    ToolString,
    component_from,
)
from ..domain.tool_strings import Component as Tool
from ..domain.tool_strings.load import ON_THE_DRAG_SIDE, own_limit_lbf
from ..models import Component, ForceConstants, ToolStringRecord, WorkOrder
from .together import rows_of, tools_together
from .tool_life import ToolLife, lives_of

EMPTY: Mapping = MappingProxyType({})
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
    wet = order.groundwater is None and _in_sand(order)
    return frozenset(found | ({"groundwater"} if wet else set()))


def old_pipe_counted(order: WorkOrder) -> pipes.Pipe:
    """Return the old pipe that a force is counted for: of a class that nobody told the heaviest.

    Raises
    ------
    PipeError: the tables have no such pipe, or the measured one cannot be.
    """
    usual = old_pipe_of(order)
    if order.old_outside_in or order.old_grade:
        return usual
    grades = pipes.grades_of(order.old_material)
    known = [g for g in grades if usual.nominal_in in pipes.sizes_of(order.old_material, g)]
    every = (pipes.pipe(order.old_material, usual.nominal_in, grade) for grade in known)
    return max(every, key=lambda pipe: pipe.outside_in, default=usual)


def groundwater_counted(order: WorkOrder) -> bool:
    """Return whether water is counted above the pipe; in sand also where nobody looked."""
    return bool(order.groundwater) or (order.groundwater is None and _in_sand(order))


def _in_sand(order: WorkOrder) -> bool:
    """Whether the ground is of the kind in which water decides whether the hole holds."""
    return order.soil in soils() and soils()[order.soil].family is SoilFamily.SAND


def planned_expander_in(case: StringCase) -> float:
    """Return the expander that would be aimed at for two pipes, in."""
    aimed = case.limits.expander_aim * case.new_pipe.outside_in
    return max(aimed, case.old_pipe.inside_in + 0.125)


def expander_in_of(order: WorkOrder, string: ToolString, as_of: date) -> float:
    """Return the diameter of the string's expander; of the one planned for, where it has none.

    Raises
    ------
    PipeError: the tables have no such pipe.
    """
    case = string_case(order, string, as_of)
    return case.expander_in or planned_expander_in(case)


def bends_of(order: WorkOrder) -> tuple[Bend, ...]:
    """Return the bends from the pit where the new pipe enters."""
    return tuple(
        sorted(
            (
                Bend(float(row["station_ft"]), float(row["degrees"]), row.get("radius_in"))
                for row in order.bends
            ),
            key=lambda bend: (bend.station_ft, bend.degrees),
        )
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
    """Return tools with what they have been through by a day, see `tool_life.lives_of`."""
    components = list(components)
    shared = tools_together(c.pk for c in components)
    lives = _lives(shared, as_of) if shared else _lives_of(components, as_of)
    return [_tool(c, lives[c.pk]) for c in components]


@once
def _lives(components: tuple[Component, ...], as_of: date | None) -> dict[int, ToolLife]:
    return _lives_of(components, as_of)


def _lives_of(components: Iterable[Component], as_of: date | None) -> dict[int, ToolLife]:
    return lives_of(components, as_of, own_limits_of(components, as_of))


def own_limits_of(components: Iterable[Component], as_of: date | None = None) -> dict[int, float]:
    """Return what tools that carry the total may bear by their entries, lb, by number.

    A puller's gauge sees the total only, so what stands at the new pipe is not held to it.
    """
    limits = string_limits_on(as_of or date.max)
    found = {}
    for component in components:
        try:
            tool = replace(_tool(component, ToolLife()), rating_confirmed=True)
        except BadComponent:
            continue
        limit = None if tool.kind in ON_THE_DRAG_SIDE else own_limit_lbf(tool, limits)
        if limit:
            found[component.pk] = limit
    return found


def _tool(component: Component, life: ToolLife) -> Tool:
    known = {
        "rated_lbf": component.rated_lbf,
        "retired_on": component.retired_on,
        "rating_confirmed": life.rating_confirmed,
        "peak_force_lbf": life.peak_lbf or None,
        "overloads": life.overloads,
        "pulls_since": life.pulls_since,
        "wear": life.wear,
        "setup": life.setup,
    }
    if life.inspection is not None:
        known |= {
            "inspected_on": life.inspection.inspected_on,
            "passed": life.inspection.passed,
            "due_on": life.inspection.next_due_on,
        }
    return component_from(
        component.kind, component.mark, tool_dimensions(component.dimensions), **known
    )


def tool_dimensions(dimensions: Mapping) -> dict:
    """Return what a string's checks read of a tool; faces of jaws are for the checklist."""
    return {name: value for name, value in dimensions.items() if name != JAW_FACES}


@once
def string_of(record: ToolStringRecord, as_of: date | None = None) -> ToolString:
    """Return the recorded string in order; a part that cannot be read is refused by its name."""
    rows = sorted(rows_of(record, "parts", "component"), key=lambda row: row.position)
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


@settled
@once
def constants_used() -> list[ForceConstants]:
    """Return every set of constants and limits that was put in use, the latest first."""
    return list(ForceConstants.objects.order_by("-put_in_use_at", "-id"))


@once
def string_limits_on(day: date) -> StringLimits:
    """Return the utility's limits of tool strings on a day; the shipped unless changed."""
    rows = constants_used()
    row = next((row for row in rows if localdate(row.put_in_use_at) <= day), None)
    return StringLimits(**row.string_limits) if row else StringLimits()


PIPE_STATE = ("resin", "temperature_f", "minutes")


def pipe_state_of(estimate) -> dict:
    """Return resin, wall temperature and time under tension that were told for an estimate."""
    given = estimate.case.get("given", {}) if estimate is not None else {}
    return {name: given[name] for name in PIPE_STATE if given.get(name)}


def string_case(
    order: WorkOrder, string: ToolString, as_of: date, estimate=None, pipe_state: Mapping = EMPTY
) -> StringCase:
    """Return what the string is checked against.

    estimate : its forces, and the state of the new pipe that it was made for, where there is one
    pipe_state : any of PIPE_STATE, where they are not an estimate's
    """
    known = {**pipe_state_of(estimate), **pipe_state}
    if estimate is not None:
        known["total_force_lbf"] = estimate.high_lbf
        known["drag_lbf"] = estimate.result.get("drag_high_lbf")
    return StringCase(
        tool_string=string,
        old_pipe=old_pipe_of(order),
        new_pipe=new_pipe_of(order),
        method=pulled_as(order.method),
        length_ft=order.length_ft,
        as_of=as_of,
        limits=string_limits_on(as_of),
        run_materials=tuple(
            kind for kind in {str(row.get("kind", "WIPED")) for row in order.joints}
            if kind in ("BRASS", "STEEL")
        ),
        **known,
    )  # fmt: skip
