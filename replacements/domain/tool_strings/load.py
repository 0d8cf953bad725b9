"""What the string can carry: two limits that are never mixed.

The TOTAL (slitting, opening, expanding, drag, bends) is carried by puller, cable or rods, jaw set,
expander, swivel and clevis. The DRAG behind the expander is carried by the new pipe, its grip
and a break-away link. Swivel and clevis lie behind the expander but are held to the total, to be
on the safe side. A part without a rating is not pulled on. Where nobody says which end of the cable
is pulled, the thin one is counted. Limits are shown rounded down.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from replacements.domain import ropes
from replacements.domain.findings import Finding
from replacements.domain.pipes import PipeError, grip_efficiency, least_grip_efficiency, resins
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import CableEnd, Component, Kind
from replacements.domain.tool_strings.ratings import believed_lbf, weighed_findings
from replacements.domain.tool_strings.rules import StringLimits, finding
from replacements.domain.units import high_lb, inches, limit_lb
from services_inventory.domain.certain import certain

_RATED = (
    Kind.PULLER,
    Kind.ROD,
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
    total: list[PartLimit] = []
    drag: list[PartLimit] = []
    for place, part in enumerate(case.tool_string.parts):
        limit = part_limit_lbf(case, part.component)
        if limit is None:
            continue
        side = drag if part.component.kind in ON_THE_DRAG_SIDE else total
        name = part.component.label + _end_told(case, part.component)
        side.append(PartLimit(name, part.component.kind.value, limit, place))
    pipe = new_pipe_limit_lbf(case)
    if pipe is not None:
        drag.append(PartLimit(case.new_pipe.label + _state_told(case), "NEW_PIPE", pipe))
    return StringStrength(tuple(total), tuple(drag))


def new_pipe_limit_lbf(case: StringCase) -> float | None:
    """Return how hard the new pipe may be pulled by its grip, lb; None where that is unknown.

    A grip that is not known counts as the poorest of the table.
    """
    try:
        allowed = case.allowed_lbf
    except PipeError:
        return None
    efficiencies = [_grip(tool) for _, tool in case.of_kind(Kind.PIPE_PULLER)]
    known = [e for e in efficiencies if e is not None]
    return allowed * min(known, default=least_grip_efficiency())


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
    for side, what, force, limits in (
        ("TOTAL", total, case.total_force_lbf, known.total),
        ("DRAG", drag, case.drag_lbf, known.drag),
    ):
        for limit in limits if force is not None else ():
            yield from _held(side, what, certain(force), limit, case.limits.caution_share)
    yield from _breakaway(case)


def part_limit_lbf(case: StringCase, tool: Component) -> float | None:
    """Return how hard one part of a case may be pulled, lb; None where nothing rates it."""
    return own_limit_lbf(tool, case.limits, thin=_thin(case, tool))


def own_limit_lbf(tool: Component, limits: StringLimits, thin: bool = False) -> float | None:
    """Return how hard a tool may be pulled by its own entry, lb; None where nothing rates it.

    thin : of a cable, by its thin end
    """
    if tool.kind is not Kind.CABLE:
        return tool.rated_lbf
    breaking = _breaking_lbf(tool, thin)
    if breaking is None:
        return tool.rated_lbf
    ends = [end for end in (tool.termination, "JAW_SET") if _known_end(end)]
    weakest = min(ends, key=ropes.termination_efficiency)
    factor = max(limits.design_factor, ropes.design_factor_floor())
    working = ropes.working_limit_lbf(breaking, termination=weakest, design_factor=factor)
    return min(working, tool.rated_lbf or working)


def _thin(case: StringCase, cable: Component) -> bool:
    """Tell whether the thin end is to be counted: it is pulled, or nobody says that it is not."""
    return bool(cable.thin_end_in) and case.tool_string.pulled_end is not CableEnd.THICK


def _breaking_lbf(cable: Component, thin: bool = False) -> float | None:
    """Return what the pulled end breaks at; a certificate is of the thick end."""
    certified = believed_lbf(cable)
    if certified and not thin:
        return certified
    tabled = _tabled_lbf(cable, cable.thin_end_in if thin else cable.pulling_end_in)
    if not (thin and certified and cable.pulling_end_in):
        return tabled
    scaled = certified * (certain(cable.thin_end_in) / cable.pulling_end_in) ** 2
    return min(scaled, tabled or scaled)


def _tabled_lbf(cable: Component, diameter_in: float | None) -> float | None:
    try:
        return ropes.breaking_force_lbf(cable.construction, diameter_in or 0)
    except ropes.UnknownRope:
        return None


def _end_told(case: StringCase, tool: Component) -> str:
    if tool.kind is not Kind.CABLE or not _thin(case, tool):
        return ""
    unknown = case.tool_string.pulled_end is CableEnd.UNKNOWN
    return f", thin end of {inches(certain(tool.thin_end_in))}" + (" (assumed)" if unknown else "")


def _state_told(case: StringCase) -> str:
    """Return what was counted of a plastic pipe that nobody read."""
    counted = {
        "resin": case.counted_resin,
        "temperature_f": f"{case.counted_temperature_f:g} \N{DEGREE SIGN}F",
    }
    told = " at ".join(counted[name] for name in case.unread)
    return f" ({told}, assumed)" if told else ""


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
            fitting = ropes.termination_codes()[cable.termination].lower()
            message = f"{cable.label} ends in a {fitting}, which is no pulling end."
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
        _ = case.allowed_lbf
    except PipeError as error:
        yield finding("NEW_PIPE", str(error))


def _weakest(rule: str, what: str, limit: PartLimit | None) -> Iterator[Finding]:
    if limit is not None:
        message = f"Limit of the {what}: {limit_lb(limit.limit_lbf)}, set by {limit.name}."
        yield finding(rule, message, part=limit.part, value=limit.limit_lbf)


def _held(
    side: str, what: str, force: float, limit: PartLimit, caution_share: float
) -> Iterator[Finding]:
    use = force / limit.limit_lbf if limit.limit_lbf > 0 else float("inf")
    message = (
        f"{limit.name}: {what} {high_lb(force)} against {limit_lb(limit.limit_lbf)}, {use:.0%} "
        "used."
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
            yield _link_above(case, place, link, link.rated_lbf, pipe)


def _link_above(
    case: StringCase, place: int, link: Component, rated_lbf: float, pipe_lbf: float
) -> Finding:
    """Return a stop; a caution where the link may be right once resin and heat are read."""
    at_best = new_pipe_limit_lbf(
        replace(case, resin=case.resin or resins()[0], temperature_f=case.temperature_f or 0.0)
    )
    unread = at_best is not None and rated_lbf <= at_best
    pipe = case.new_pipe.label + _state_told(case)
    parts_at, allowed = high_lb(rated_lbf), limit_lb(pipe_lbf)
    message = f"{link.label} parts at {parts_at}; {pipe} is allowed {allowed}."
    rule = "BREAKAWAY_UNREAD" if unread else "BREAKAWAY_HIGH"
    return finding(rule, message, part=place, value=rated_lbf)
