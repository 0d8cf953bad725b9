"""Which parts a string needs, in which order, facing which way, pulled by which end.

Common practice, no source, but for the swivel.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from replacements.domain.findings import Finding
from replacements.domain.pipes import NEW_PIPE_MATERIALS, Pipe
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import (
    CableEnd,
    Facing,
    Kind,
    Transition,
)
from replacements.domain.tool_strings.rules import finding
from replacements.domain.units import inches

# Parts that share a place may stand in either order between their neighbors.
PLACE = {
    Kind.PULLER: 0,
    Kind.CABLE: 1,
    Kind.BLADE: 2,
    Kind.PRE_EXPANDER: 3,
    Kind.SPACER: 3,
    Kind.EXPANDER: 4,
    Kind.JAW_SET: 5,
    Kind.RETAINING_NUT: 6,
    Kind.SWIVEL: 7,
    Kind.CLEVIS: 7,
    Kind.BREAKAWAY_LINK: 7,
    Kind.PIPE_PULLER: 8,
}
_MAY_REPEAT = {Kind.PRE_EXPANDER, Kind.SPACER, Kind.SWIVEL, Kind.CLEVIS}


class Need(StrEnum):
    """REQUIRED parts stop a pull when missing, ADVISED parts ask for a decision."""

    REQUIRED = "REQUIRED"
    ADVISED = "ADVISED"


@dataclass(frozen=True)
class Requirement:
    """A kind of part that a string for these pipes needs, and why."""

    kind: Kind
    need: Need
    why: str


_ALWAYS = (
    (Kind.CABLE, Need.REQUIRED, "it pulls the string through the old pipe"),
    (Kind.BLADE, Need.REQUIRED, "it slits the old pipe"),
    (Kind.PRE_EXPANDER, Need.ADVISED, "it opens the slit pipe in two steps: the total is lower"),
    (Kind.SPACER, Need.ADVISED, "it keeps slitting and expanding force from adding up"),
    (Kind.EXPANDER, Need.REQUIRED, "it makes room for the new pipe"),
    (Kind.JAW_SET, Need.REQUIRED, "it holds the cable"),
    (Kind.RETAINING_NUT, Need.REQUIRED, "it seats the jaws and keeps them seated"),
)


def required_kinds(
    old_pipe: Pipe, new_pipe: Pipe, construction: str = ""
) -> tuple[Requirement, ...]:
    """Return the kinds of part a string for these two pipes needs, in order, each with its reason.

    A lead line needs a blade; a swivel is required where a 7x19 cable pulls copper or plastic,
    advised otherwise.
    """
    found = [Requirement(*row) for row in _ALWAYS]
    if old_pipe.material != "LEAD":
        found = [r for r in found if r.kind is not Kind.BLADE]
    twists = construction.upper().startswith("7X19") and new_pipe.material in NEW_PIPE_MATERIALS
    found.append(
        Requirement(
            Kind.SWIVEL,
            Need.REQUIRED if twists else Need.ADVISED,
            "it keeps the cable from unlaying and the new pipe from twisting",
        )
    )
    found.append(Requirement(Kind.PIPE_PULLER, Need.REQUIRED, f"it holds the {new_pipe.label}"))
    return tuple(found)


def order_findings(case: StringCase) -> Iterator[Finding]:
    """Yield what is missing, doubled, out of order or turned round."""
    yield from _missing(case)
    yield from _doubled(case)
    yield from _out_of_order(case)
    yield from _blade_facing(case)


def cable_end_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether the right end of the cable carries the load, in jaws and puller of its size."""
    place = next((i for i, _ in case.of_kind(Kind.CABLE)), None)
    end = case.tool_string.pulled_end
    if end is CableEnd.THIN:
        yield finding("THIN_END_PULLED", "The thin end of the cable is in the puller.", part=place)
    elif end is not CableEnd.THICK:
        message = "Nobody recorded which end of the cable is pulled."
        yield finding("PULLED_END_UNKNOWN", message, part=place)
    if case.tool_string.transition is not Transition.CLEAR:
        where = (
            "in the jaws" if case.tool_string.transition is Transition.IN_JAWS else "on a sheave"
        )
        message = f"The joint between the cable's two diameters comes to lie {where}."
        yield finding("TRANSITION_LOADED", message, part=place)
    for place, cable in case.of_kind(Kind.CABLE):
        if cable.pulling_end_in:
            yield from _gripped_by(case, place, cable.pulling_end_in)


def _missing(case: StringCase) -> Iterator[Finding]:
    cable = case.first(Kind.CABLE)
    have = {part.component.kind for part in case.tool_string.parts}
    needs = required_kinds(case.old_pipe, case.new_pipe, cable.construction if cable else "")
    for need in needs:
        if need.kind in have:
            continue
        rule = "PART_MISSING" if need.need is Need.REQUIRED else "PART_ADVISED"
        if need.kind is Kind.SWIVEL and need.need is Need.REQUIRED:
            rule = "SWIVEL_MISSING"
        yield finding(rule, f"The string has no {need.kind.label.lower()}: {need.why}.")


def _doubled(case: StringCase) -> Iterator[Finding]:
    for kind in Kind:
        found = case.of_kind(kind)
        if kind not in _MAY_REPEAT and len(found) > 1:
            message = f"The string has {len(found)} of {kind.label.lower()}, one is right."
            yield finding("PART_TWICE", message, part=found[1][0], value=len(found))


def _out_of_order(case: StringCase) -> Iterator[Finding]:
    furthest = None
    for place, part in enumerate(case.tool_string.parts):
        component = part.component
        if furthest and PLACE[component.kind] < PLACE[furthest.kind]:
            message = (
                f"{component.label} stands behind {furthest.label}, counted from the puller; it "
                "belongs before it."
            )
            yield finding("ORDER", message, part=place)
        else:
            furthest = component


def _blade_facing(case: StringCase) -> Iterator[Finding]:
    for place, part in enumerate(case.tool_string.parts):
        if part.component.kind is not Kind.BLADE or part.facing is Facing.FLAT_TO_OLD_PIPE:
            continue
        if part.facing is Facing.TAPER_TO_OLD_PIPE:
            message = f"{part.component.label} faces the old pipe with its taper: it would plow."
        else:
            message = f"Nobody recorded which way {part.component.label} faces."
        yield finding("BLADE_FACING", message, part=place)


def _gripped_by(case: StringCase, place: int, pulling_end_in: float) -> Iterator[Finding]:
    takes = (case.limits.pulling_cable_in,)
    who, at = "The puller at the receiving pit", place
    for at_puller, puller in case.of_kind(Kind.PULLER):
        takes, who, at = puller.fits_cable_in or takes, puller.label, at_puller
    if not fits(pulling_end_in, takes):
        sizes = ", ".join(inches(size) for size in takes)
        message = f"{who} takes {sizes} cable, the pulling end is {inches(pulling_end_in)}"
        yield finding("PULLER_CABLE", message, part=at, value=pulling_end_in)
    for at_jaw, jaws in case.of_kind(Kind.JAW_SET):
        if jaws.fits_cable_in and not fits(pulling_end_in, jaws.fits_cable_in):
            sizes = ", ".join(inches(size) for size in jaws.fits_cable_in)
            message = (
                f"{jaws.label} holds {sizes} cable, the pulling end is {inches(pulling_end_in)}"
            )
            yield finding("JAW_CABLE", message, part=at_jaw, value=pulling_end_in)


def fits(size_in: float, sizes_in: tuple[float, ...]) -> bool:
    """Tell whether a size is one of those a tool is marked for, within 0.002 in."""
    return any(abs(size_in - size) <= 0.002 for size in sizes_in)
