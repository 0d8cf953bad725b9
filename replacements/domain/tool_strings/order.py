"""Which parts a string needs, in which order, facing which way, pulled by which end.

Which parts a method takes is data (`string_parts.csv`).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from replacements.domain.findings import Finding
from replacements.domain.methods import PULLED, Method
from replacements.domain.pipes import NEW_PIPE_MATERIALS, Pipe
from replacements.domain.reference_tables import rows
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import CableEnd, Facing, Kind
from replacements.domain.tool_strings.rules import finding
from replacements.domain.units import inches

# Parts that share a place may stand in either order between their neighbors.
PLACE = {
    Kind.PULLER: 0,
    Kind.CABLE: 1,
    Kind.ROD: 1,
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
    """REQUIRED parts stop a pull when missing, WRONG ones when there; ADVISED ask to decide."""

    REQUIRED = "REQUIRED"
    ADVISED = "ADVISED"
    WRONG = "WRONG"


@dataclass(frozen=True)
class Requirement:
    """A kind of part that a string needs, or must not have, and why."""

    kind: Kind
    need: Need
    why: str


@cache
def parts_of() -> dict[Method, tuple[Requirement, ...]]:
    """Return what the string of each pulled method is made of, in its order; data."""
    return {
        method: tuple(
            Requirement(Kind(row["kind"]), Need(row["need"]), row["why"])
            for row in rows("string_parts")
            if row["method"] == method
        )
        for method in sorted(PULLED)
    }


def required_kinds(
    old_pipe: Pipe, new_pipe: Pipe, construction: str = "", method: Method = Method.SPLIT
) -> tuple[Requirement, ...]:
    """Return the kinds of part a string of a method needs, in order, each with its reason.

    A lead line that is slit needs a blade; a swivel is required where a 7x19 cable pulls copper or
    plastic. What is WRONG in the string of a method is among them.
    """
    twists = construction.upper().startswith("7X19") and new_pipe.material in NEW_PIPE_MATERIALS
    return _required_kinds(method, old_pipe.material == "LEAD", twists)


@cache
def _required_kinds(method: Method, slit: bool, twists: bool) -> tuple[Requirement, ...]:
    found = parts_of()[method]
    if method is Method.SPLIT and not slit:
        found = tuple(r for r in found if r.kind is not Kind.BLADE)
    return tuple(
        replace(need, need=Need.REQUIRED) if twists and need.kind is Kind.SWIVEL else need
        for need in found
    )


def order_findings(case: StringCase) -> Iterator[Finding]:
    """Yield what is missing, doubled, out of order or turned round."""
    yield from _missing(case)
    yield from _doubled(case)
    yield from _out_of_order(case)
    yield from _blade_facing(case)


def cable_end_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether the right end of the cable carries the load, in jaws and puller of its size."""
    yield from _rods_gripped(case)
    if not any(r.kind is Kind.CABLE and r.need is Need.REQUIRED for r in parts_of()[case.method]):
        return
    place = next((i for i, _ in case.of_kind(Kind.CABLE)), None)
    end = case.tool_string.pulled_end
    if end is CableEnd.THIN:
        yield finding("THIN_END_PULLED", "The thin end of the cable is in the puller.", part=place)
    elif end is not CableEnd.THICK:
        message = "Nobody recorded which end of the cable is pulled."
        yield finding("PULLED_END_UNKNOWN", message, part=place)
    for place, cable in case.of_kind(Kind.CABLE):
        if cable.pulling_end_in:
            yield from _gripped_by(case, place, cable.pulling_end_in)


def _missing(case: StringCase) -> Iterator[Finding]:
    cable = case.first(Kind.CABLE)
    have = {part.component.kind for part in case.tool_string.parts}
    construction = cable.construction if cable else ""
    for need in required_kinds(case.old_pipe, case.new_pipe, construction, case.method):
        if need.need is Need.WRONG:
            yield from _wrong(case, need)
            continue
        if need.kind in have:
            continue
        rule = "PART_MISSING" if need.need is Need.REQUIRED else "PART_ADVISED"
        if need.kind is Kind.SWIVEL and need.need is Need.REQUIRED and cable:
            rule = "SWIVEL_MISSING"
        yield finding(rule, f"The string has no {need.kind.label.lower()}: {need.why}.")


def _wrong(case: StringCase, need: Requirement) -> Iterator[Finding]:
    for place, tool in case.of_kind(need.kind):
        message = f"{tool.label} does not belong in this string: {need.why}."
        yield finding("PART_WRONG", message, part=place)


def _rods_gripped(case: StringCase) -> Iterator[Finding]:
    """Yield a puller that does not take the rods of the string."""
    for _, rod in case.of_kind(Kind.ROD):
        for place, puller in case.of_kind(Kind.PULLER):
            if rod.outside_in and not fits(rod.outside_in, puller.fits_rod_in):
                takes = ", ".join(inches(size) for size in puller.fits_rod_in)
                message = (
                    f"{puller.label} takes {takes or 'no'} rods; {rod.label} measure "
                    f"{inches(rod.outside_in)}"
                )
                yield finding("PULLER_ROD", message, part=place, value=rod.outside_in)


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
    takes: tuple[float, ...] = (case.limits.pulling_cable_in,)
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
