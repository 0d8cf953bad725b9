"""What the parts of a string have been through, judged on the day of the pull.

Inspection, overload, pulls since the last inspection, wear and retirement.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache

from replacements.domain.findings import Finding
from replacements.domain.reference_tables import cited, rows
from replacements.domain.ropes import RopeInspection, retirement_findings
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import Component, Kind, Wear
from replacements.domain.tool_strings.ratings import believed_lbf, tabled_rope
from replacements.domain.tool_strings.rules import finding
from services_inventory.domain.days import day_told


def condition_findings(case: StringCase) -> Iterator[Finding]:
    """Yield worn, uninspected, overdue, failed and retired parts."""
    if case.as_of is None and case.tool_string.parts:
        message = "No day was given, so no inspection was judged."
        yield finding("CONDITION_UNJUDGED", message)
    for place, part in enumerate(case.tool_string.parts):
        tool = part.component
        yield from _inspected(place, tool, case.as_of)
        yield from _used(place, tool)
        yield from _worn(place, tool)
        if tool.kind is Kind.CABLE:
            yield from _overloaded(place, tool)


def _inspected(place: int, tool: Component, as_of: date | None) -> Iterator[Finding]:
    if tool.passed is False:
        message = f"{tool.label} failed its inspection{_on(tool.inspected_on)}."
        yield finding("INSPECTION_FAILED", message, part=place)
    if tool.inspected_on is None:
        message = f"{tool.label} has no inspection on record."
        yield finding("INSPECTION_NONE", message, part=place)
    if as_of is None:
        return
    if tool.retired_on is not None and tool.retired_on <= as_of:
        yield finding("RETIRED", f"{tool.label} was retired{_on(tool.retired_on)}.", part=place)
    if tool.due_on is not None and tool.due_on < as_of:
        message = f"{tool.label} was due for inspection{_on(tool.due_on)}."
        yield finding("INSPECTION_OVERDUE", message, part=place)
    if tool.inspected_on is not None and tool.inspected_on > as_of:
        message = f"{tool.label}: the inspection{_on(tool.inspected_on)} lies after the pull."
        yield finding("INSPECTION_FUTURE", message, part=place)


@dataclass(frozen=True)
class WearLimit:
    """After how many pulls a kind of tool is to be inspected again."""

    pulls: int
    source: str
    mark: str

    @property
    def cited(self) -> str:
        """The source with its mark."""
        return cited(self.source, self.mark)


@cache
def wear_limits() -> dict[str, WearLimit]:
    """Return the limit of each kind of tool that has one."""
    return {
        row["kind"]: WearLimit(int(row["pulls"]), row["source"], row["mark"])
        for row in rows("wear_limits")
    }


def wear_share(tool: Component) -> float:
    """Return the pulls since a tool was inspected over its limit; 0 where nobody counts."""
    limit = wear_limits().get(tool.kind.value)
    return (tool.pulls_since or 0) / limit.pulls if limit else 0.0


def _used(place: int, tool: Component) -> Iterator[Finding]:
    for overload in tool.overloads:
        message = f"{tool.label}: {overload.told}; no competent person has passed it since."
        yield finding("OVERLOADED", message, part=place, value=overload.peak_lbf)
    if wear_share(tool) >= 1:
        limit = wear_limits()[tool.kind.value]
        message = (
            f"{tool.label}: {tool.pulls_since} pulls since it was inspected, {limit.pulls} set."
        )
        yield finding("WEAR_LIMIT", message, part=place, value=tool.pulls_since, source=limit.cited)


def _worn(place: int, tool: Component) -> Iterator[Finding]:
    for name, state in sorted(tool.wear.items()):
        if state is Wear.GOOD:
            continue
        rule = "CABLE_TIP" if tool.kind is Kind.CABLE and name == "TIP" else "WEAR"
        part = name.replace("_", "-" if name == "O_RINGS" else " ").lower()
        message = f"{tool.label}: {part} {state.value.lower()}."
        yield finding(rule, message, part=place)
    if tool.kind is Kind.JAW_SET and "O_RINGS" not in tool.wear:
        message = f"{tool.label}: nobody recorded the state of its O-rings."
        yield finding("O_RINGS_UNSEEN", message, part=place)


def _overloaded(place: int, cable: Component) -> Iterator[Finding]:
    inspection = RopeInspection(
        peak_force_lbf=cable.peak_force_lbf, breaking_force_lbf=believed_lbf(cable)
    )
    for found in retirement_findings(inspection, tabled_rope(cable)):
        yield finding(
            "RETIRED",
            f"{cable.label}: {found.message}",
            part=place,
            value=found.value,
            source=found.source,
        )


def _on(day: date | None) -> str:
    return f" on {day_told(day)}" if day else ""
