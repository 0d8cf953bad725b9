"""What the string can carry: two limits that are never mixed.

The TOTAL (slitting, opening, expanding, drag, bends) is carried by puller, cable, jaw set,
expander, swivel and clevis. The DRAG behind the expander is carried by the new pipe, its grip
and a break-away link. Swivel and clevis lie behind the expander but are held to the total, to be
on the safe side. A part without a rating is not pulled on.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from replacements.domain import ropes
from replacements.domain.findings import Finding
from replacements.domain.pipes import PipeError, allowable_pull_lbf, grip_efficiency
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import Component, Kind
from replacements.domain.tool_strings.ratings import believed_lbf, weighed_findings
from replacements.domain.tool_strings.rules import StringLimits, finding

_RATED = (
    Kind.PULLER,
    Kind.JAW_SET,
    Kind.EXPANDER,
    Kind.SWIVEL,
    Kind.CLEVIS,
    Kind.BREAKAWAY_LINK,
    Kind.PIPE_PULLER,
)
ON_THE_DRAG_SIDE = (Kind.PIPE_PULLER, Kind.BREAKAWAY_LINK)


@dataclass(frozen=True)
class PartLimit:
    """How hard one part may be pulled, lb; part is None for the new pipe."""

    name: str
    kind: str
    limit_lbf: float
    part: int | None = None


@dataclass(frozen=True)
class StringStrength:
    """The limits of a string, part by part: total and drag apart."""

    total: tuple[PartLimit, ...]
    drag: tuple[PartLimit, ...]

    @property
    def total_limit(self) -> PartLimit | None:
        """The weakest part that carries the total; None where no part has a rating."""
        return min(self.total, key=lambda limit: limit.limit_lbf, default=None)

    @property
    def drag_limit(self) -> PartLimit | None:
        """The weakest of new pipe, grip and break-away link; None where nothing is known."""
        return min(self.drag, key=lambda limit: limit.limit_lbf, default=None)


def strength(case: StringCase) -> StringStrength:
    """Return what each part of the string can carry; parts without a rating are left out."""
    total, drag = [], []
    for place, part in enumerate(case.tool_string.parts):
        limit = part_limit_lbf(case, part.component)
        if limit is None:
            continue
        side = drag if part.component.kind in ON_THE_DRAG_SIDE else total
        side.append(PartLimit(part.component.label, part.component.kind.value, limit, place))
    pipe = new_pipe_limit_lbf(case)
    if pipe is not None:
        drag.append(PartLimit(case.new_pipe.label, "NEW_PIPE", pipe))
    return StringStrength(tuple(total), tuple(drag))


def new_pipe_limit_lbf(case: StringCase) -> float | None:
    """Return how hard the new pipe may be pulled by its grip, lb; None where that is unknown."""
    try:
        allowed = allowable_pull_lbf(
            case.new_pipe,
            case.minutes,
            resin=case.resin,
            temperature_f=case.temperature_f,
            copper_factor=case.copper_factor,
        )
    except PipeError:
        return None
    efficiencies = [_grip(tool) for _, tool in case.of_kind(Kind.PIPE_PULLER)]
    return allowed * min((e for e in efficiencies if e is not None), default=1.0)


def rating_findings(case: StringCase) -> Iterator[Finding]:
    """Yield parts whose rating, certificate, end fitting or grip is unknown or no good."""
    yield from ropes.design_factor_findings(case.limits.design_factor)
    for place, part in enumerate(case.tool_string.parts):
        tool = part.component
        if tool.kind in _RATED and tool.rated_lbf is None:
            yield finding("RATING_MISSING", f"{tool.label} has no rated load.", part=place)
        yield from weighed_findings(place, tool, case.limits.pulling_cable_in)
        if tool.kind is Kind.CABLE:
            yield from _cable_rating(place, tool)
        if tool.kind is Kind.PIPE_PULLER and tool.grip:
            yield from _grip_findings(place, tool)


def limit_findings(case: StringCase) -> Iterator[Finding]:
    """Yield the weakest link of both sides, and the forces held against them where known."""
    known = strength(case)
    yield from _new_pipe(case)
    total, drag = "total pull", "drag behind the expander"
    yield from _weakest("WEAKEST_LINK", total, known.total_limit)
    yield from _weakest("DRAG_LIMIT", drag, known.drag_limit)
    for limit in known.total if case.total_force_lbf is not None else ():
        yield from _held("TOTAL", total, case.total_force_lbf, limit, case.limits.caution_share)
    for limit in known.drag if case.drag_lbf is not None else ():
        yield from _held("DRAG", drag, case.drag_lbf, limit, case.limits.caution_share)
    yield from _breakaway(case)


def part_limit_lbf(case: StringCase, tool: Component) -> float | None:
    """Return how hard one part of a case may be pulled, lb; None where nothing rates it."""
    return own_limit_lbf(tool, case.limits)


def own_limit_lbf(tool: Component, limits: StringLimits) -> float | None:
    """Return how hard a tool may be pulled by its own entry, lb; None where nothing rates it."""
    if tool.kind is not Kind.CABLE:
        return tool.rated_lbf
    breaking = _breaking_lbf(tool)
    if breaking is None:
        return tool.rated_lbf
    ends = [end for end in (tool.termination, "JAW_SET") if _known_end(end)]
    weakest = min(ends, key=ropes.termination_efficiency)
    factor = max(limits.design_factor, ropes.design_factor_floor())
    working = ropes.working_limit_lbf(breaking, termination=weakest, design_factor=factor)
    return min(working, tool.rated_lbf or working)


def _breaking_lbf(cable: Component) -> float | None:
    if cable.breaking_force_lbf:
        return believed_lbf(cable)
    try:
        return ropes.breaking_force_lbf(cable.construction, cable.pulling_end_in or 0)
    except ropes.UnknownRope:
        return None


def _known_end(code: str) -> bool:
    try:
        return ropes.termination_efficiency(code) > 0
    except ropes.UnknownRope:
        return False


def _grip(tool: Component) -> float | None:
    try:
        return grip_efficiency(tool.grip)
    except PipeError:
        return None


def _cable_rating(place: int, cable: Component) -> Iterator[Finding]:
    if cable.termination:
        if not _known_end(cable.termination):
            message = f"{cable.label} ends in {cable.termination!r}, which no table knows."
            yield finding("TERMINATION", message, part=place)
        elif not ropes.holds_a_pull(cable.termination):
            message = f"{cable.label} ends in {cable.termination}, which is no pulling end."
            yield finding("TERMINATION", message, part=place)
    if cable.breaking_force_lbf:
        return
    breaking = _breaking_lbf(cable)
    if breaking is None:
        message = f"{cable.label}: no certificate, and no table row for what it is."
        yield finding("RATING_MISSING", message, part=place)
    else:
        message = f"{cable.label}: no certificate; the table's {breaking:,.0f} lb is used."
        yield finding("CERTIFICATE_MISSING", message, part=place, value=breaking)


def _grip_findings(place: int, tool: Component) -> Iterator[Finding]:
    efficiency = _grip(tool)
    if efficiency is None:
        yield finding(
            "GRIP_UNKNOWN", f"{tool.label}: no table knows grip {tool.grip!r}.", part=place
        )
    elif efficiency == 0:
        yield finding("GRIP_JOINT", f"{tool.label} pulls on a joint.", part=place)


def _new_pipe(case: StringCase) -> Iterator[Finding]:
    try:
        allowable_pull_lbf(
            case.new_pipe,
            case.minutes,
            resin=case.resin,
            temperature_f=case.temperature_f,
            copper_factor=case.copper_factor,
        )
    except PipeError as error:
        yield finding("NEW_PIPE", str(error))


def _weakest(rule: str, what: str, limit: PartLimit | None) -> Iterator[Finding]:
    if limit is not None:
        message = f"Limit of the {what}: {limit.limit_lbf:,.0f} lb, set by {limit.name}."
        yield finding(rule, message, part=limit.part, value=limit.limit_lbf)


def _held(
    side: str, what: str, force: float, limit: PartLimit, caution_share: float
) -> Iterator[Finding]:
    use = force / limit.limit_lbf if limit.limit_lbf > 0 else float("inf")
    message = (
        f"{limit.name}: {what} {force:,.0f} lb against {limit.limit_lbf:,.0f} lb, {use:.0%} used."
    )
    if not use <= 1:
        yield finding(f"{side}_OVER", message, part=limit.part, value=use)
    elif use > caution_share:
        yield finding(f"{side}_NEAR", message, part=limit.part, value=use)


def _breakaway(case: StringCase) -> Iterator[Finding]:
    links = case.of_kind(Kind.BREAKAWAY_LINK)
    if not links:
        yield finding("BREAKAWAY_ADVISED", "No break-away link stands between string and grip.")
    pipe = new_pipe_limit_lbf(case)
    for place, link in links:
        if pipe is not None and link.rated_lbf and link.rated_lbf > pipe:
            message = (
                f"{link.label} parts at {link.rated_lbf:,.0f} lb; {case.new_pipe.label} is allowed "
                f"{pipe:,.0f} lb."
            )
            yield finding("BREAKAWAY_HIGH", message, part=place, value=link.rated_lbf)
