"""Ratings are weighed before they are believed: one zero too many stands beside no loaded cable.

A cable's certificate is held against the table of its size and construction, another part's rating
against the strongest cable of its size. What does not agree stops the pull until the paper is on
record and a second person has read the figure off it; until then no more is credited than would
be believed without them.
"""

import math
from collections.abc import Iterator

from replacements.domain.findings import Finding
from replacements.domain.reference_tables import constants
from replacements.domain.ropes import Rope, UnknownRope, rope, strongest_lbf
from replacements.domain.tool_strings.components import Component, Kind
from replacements.domain.tool_strings.rules import finding
from replacements.domain.units import inches

_IN_THE_BORE = (Kind.JAW_SET, Kind.EXPANDER, Kind.SWIVEL, Kind.CLEVIS)


def tabled_rope(cable: Component) -> Rope | None:
    """Return the table's rope of a cable's construction and size, None where there is none."""
    try:
        return rope(cable.construction, cable.pulling_end_in or 0)
    except UnknownRope:
        return None


def believed_lbf(cable: Component) -> float | None:
    """Return what a cable's certificate is credited with, lb; None without one to rely on."""
    certified, table = cable.breaking_force_lbf, tabled_rope(cable)
    if certified is None or cable.rating_confirmed:
        return certified
    if table is None:
        return None
    return min(certified, table.breaking_force_lbf * (1 + _share("CERTIFICATE_OVER_TABLE")))


def weighed_findings(place: int, tool: Component, cable_in: float) -> Iterator[Finding]:
    """Yield what speaks against a rating as it is entered.

    cable_in : the pulling end that is usual, for a part that is not marked with its own
    """
    if tool.rating_confirmed:
        return
    if tool.kind is Kind.CABLE and tool.breaking_force_lbf:
        yield from _certificate(place, tool, tool.breaking_force_lbf)
    elif tool.kind is Kind.ROD and tool.rated_lbf and tool.outside_in:
        yield from _rod_rating(place, tool, tool.outside_in, tool.rated_lbf)
    elif tool.kind in _IN_THE_BORE and tool.rated_lbf:
        yield from _rating(place, tool, tool.rated_lbf, max(tool.fits_cable_in or (cable_in,)))


def _certificate(place: int, cable: Component, certified: float) -> Iterator[Finding]:
    table = tabled_rope(cable)
    said = f"{cable.label}: the certificate says {certified:,.0f} lb"
    if table is None:
        what = f"the table knows no {cable.construction} of {inches(cable.pulling_end_in or 0)}"
        message = f"{said}; {what if cable.construction else 'no construction is on record.'}"
        yield finding("CONSTRUCTION_UNKNOWN", message, part=place, value=certified)
        return
    of_table = f"the table {table.breaking_force_lbf:,.0f} lb for its size and construction"
    share = certified / table.breaking_force_lbf - 1
    if share > _share("CERTIFICATE_OVER_TABLE"):
        message = f"{said}, {of_table}: {share:.0%} more."
        yield finding("CERTIFICATE_DOUBTED", message, part=place, value=certified)
    elif certified < table.breaking_force_lbf * _share("CERTIFICATE_UNDER_TABLE"):
        yield finding("CERTIFICATE_LOW", f"{said}, {of_table}.", part=place, value=certified)


def _rating(place: int, tool: Component, rated_lbf: float, size_in: float) -> Iterator[Finding]:
    strongest = strongest_lbf(size_in)
    if strongest and rated_lbf > strongest * (1 + _share("CERTIFICATE_OVER_TABLE")):
        message = (
            f"{tool.label} is entered at {rated_lbf:,.0f} lb; the strongest cable of "
            f"{inches(size_in)} breaks at {strongest:,.0f} lb."
        )
        yield finding("RATING_DOUBTED", message, part=place, value=rated_lbf)


def _rod_rating(
    place: int, rod: Component, outside_in: float, rated_lbf: float
) -> Iterator[Finding]:
    """Yield rods rated above what solid steel of their size would yield at."""
    yields_lbf = math.pi / 4 * outside_in**2 * _share("ROD_STEEL_YIELD")
    if rated_lbf > yields_lbf:
        message = (
            f"{rod.label} are entered at {rated_lbf:,.0f} lb; solid steel of "
            f"{inches(outside_in)} yields at {yields_lbf:,.0f} lb."
        )
        yield finding("RATING_DOUBTED", message, part=place, value=rated_lbf)


def _share(name: str) -> float:
    return constants("rope_constants")[name, ""].value
