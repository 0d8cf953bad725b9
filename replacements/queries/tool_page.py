"""What the pages of tools show: how each stands on a day, and its history pull by pull."""

from collections.abc import Iterable
from datetime import date

from services_inventory.domain.days import day_told

from ..domain.findings import Level
from ..domain.tool_strings import BadComponent
from ..domain.tool_strings import Component as Tool
from ..domain.tool_strings.condition import wear_limits, wear_share
from ..domain.tool_strings.load import ON_THE_DRAG_SIDE
from ..domain.tool_strings.ratings import weighed_findings
from ..models import Component
from .planned_pull import own_limits_of, string_limits_on, tools_of
from .tool_life import pulls_with

PULLS_SHOWN = 10


def standing_of(
    components: Iterable[Component], day: date
) -> list[tuple[Component, Tool | None, str, str]]:
    """Return each component with its tool, and the level and words of how it stands on a day."""
    components = list(components)
    try:
        tools = tools_of(components, day)
    except BadComponent:
        tools = [_read(component, day) for component in components]
    cable_in = string_limits_on(day).pulling_cable_in
    return [
        (component, tool, *_said(component, tool, day, cable_in))
        for component, tool in zip(components, tools, strict=True)
    ]


def _read(component: Component, day: date) -> Tool | None:
    try:
        return tools_of([component], day)[0]
    except BadComponent:
        return None


def _said(component: Component, tool: Tool | None, day: date, cable_in: float) -> tuple[str, str]:
    if component.retired_on:
        return "NOTE", f"retired on {day_told(component.retired_on)}"
    if tool is None:
        return "STOP", "its entry cannot be read: correct it"
    if tool.overloads:
        return "STOP", f"out of use until a competent person passes it: {tool.overloads[-1].told}"
    if tool.inspected_on is None:
        return "STOP", "never inspected: do not use"
    if not tool.passed:
        return "STOP", f"failed on {day_told(tool.inspected_on)}: do not use"
    if tool.due_on and tool.due_on < day:
        return "STOP", f"inspection was due on {day_told(tool.due_on)}: do not use"
    doubts = [f for f in weighed_findings(0, tool, cable_in) if f.level is Level.STOP]
    if doubts:
        return "STOP", "its rating is not believed yet: see its paper"
    if wear_share(tool) >= 1:
        return "CAUTION", f"{tool.pulls_since} pulls since it was inspected: inspect it"
    return "GOOD", f"passed on {day_told(tool.inspected_on)}"


def doubts_of(tool: Tool | None, day: date) -> list:
    """Return what speaks against a tool's rating as it is entered."""
    cable_in = string_limits_on(day).pulling_cable_in
    return list(weighed_findings(0, tool, cable_in)) if tool else []


def history_of(component: Component, tool: Tool | None) -> dict:
    """Return a tool's pulls, the latest first: day, order, peak, its share of the limit."""
    rows = (
        pulls_with([component.pk])
        .select_related("work_order")
        .order_by("-pulled_on", "-id")
        .distinct()
    )
    own = own_limits_of([component]).get(component.pk)
    drag = tool is not None and tool.kind in ON_THE_DRAG_SIDE
    limit = wear_limits().get(component.kind)
    return {
        "rows": [_pull(row, own, drag, component.rated_lbf) for row in rows[:PULLS_SHOWN]],
        "count": rows.count(),
        "own": component.rated_lbf if drag else own,
        "drag": drag,
        "since": tool.pulls_since if tool else None,
        "wear_limit": limit,
    }


def _pull(row, own: float | None, drag: bool, rated: float | None) -> dict:
    """Return one pull; what stands at the new pipe carried the drag, which is inferred."""
    held = row.metrics.get("limits", {}).get("limit_lbf")
    peak = row.metrics.get("pipe_tension_lbf") if drag else row.peak_lbf
    limit = rated if drag else own
    over = bool(row.gear_event) or bool(not drag and own and peak and peak > own)
    return {
        "record": row,
        "peak": peak,
        "share": round(100 * peak / limit) if peak and limit else None,
        "held": held,
        "of_string": round(100 * row.peak_lbf / held) if held and row.peak_lbf else None,
        "over": over,
    }
