"""Other utilities near a pull: how far they must lie, and which are exposed first.

Widening pushes the ground outward from the bore, so what lies close and cannot give, or must not
be touched, decides. Rules of local codes and of the utilities' owners come before these.
"""

from collections.abc import Iterable
from typing import Any

from replacements.domain.findings import Finding, Level, by_severity
from replacements.domain.ground.rules import source_of, value_of
from replacements.domain.other_lines import OtherLine, UtilityKind


def clearance_in(expander_in: float, old_bore_in: float, dense_ground: bool = False) -> float:
    """Return how far another line must lie from the old pipe's centerline, in.

    Ten times the widening, twice that in cobble or dense ground; no floor applied.
    """
    factor = value_of("DENSE_GROUND_FACTOR") if dense_ground else 1.0
    return max(value_of("CLEARANCE_PER_WIDENING") * (expander_in - old_bore_in), 0.0) * factor


def required_separation_in(kind: UtilityKind, clearance: float) -> float:
    """Return the clearance with the floor of 12 in., or 24 in. for gas, electric and fibre."""
    return max(clearance, value_of("SENSITIVE_FLOOR" if UtilityKind(kind).sensitive else "FLOOR"))


def check_clearances(
    lines: Iterable[OtherLine],
    expander_in: float,
    old_bore_in: float,
    dense_ground: bool = False,
) -> list[Finding]:
    """Return what the other utilities near the run ask for, the worst first.

    A crossing closer than 24 in. must be exposed before the pull. Inside the clearance nothing is
    pulled past a line that has not been seen.
    """
    clearance = clearance_in(expander_in, old_bore_in, dense_ground)
    found = (_line_finding(line, clearance) for line in lines)
    return by_severity([finding for finding in found if finding is not None])


def _line_finding(line: OtherLine, clearance: float) -> Finding | None:
    if line.separation_in is None:
        return Finding(
            Level.STOP,
            "SEPARATION_UNKNOWN",
            f"The distance to the {line.label} is not known.",
            source_of("EXPOSE_WITHIN"),
            "Locate it, expose it by hand or vacuum, and measure.",
            at_ft=line.at_ft,
        )
    needed = required_separation_in(line.kind, clearance)
    expose = line.crossing and line.separation_in < value_of("EXPOSE_WITHIN")
    if line.separation_in >= needed and not (expose and not line.exposed):
        return None
    return _close(line, line.separation_in, needed, clearance)


def _close(line: OtherLine, away_in: float, needed: float, clearance: float) -> Finding:
    floored = needed > clearance
    words = f"The {line.label} lies {away_in:g} in. away; {needed:.0f} in. are wanted."
    shared: dict[str, Any] = {
        "source": source_of("EXPOSE_WITHIN" if floored else "CLEARANCE_PER_WIDENING"),
        "at_ft": line.at_ft,
        "value": away_in,
    }
    if not line.exposed:
        return Finding(
            Level.STOP,
            "EXPOSE_FIRST",
            words + " It has not been exposed.",
            do="Dig it up by hand or vacuum before the pull, and call its owner.",
            **shared,
        )
    if away_in < clearance and not line.relieved:
        breakable = " It is rigid and may break." if line.rigid else ""
        return Finding(
            Level.STOP if line.rigid or line.kind.sensitive else Level.CAUTION,
            "INSIDE_CLEARANCE",
            f"{words} The ground pushed aside reaches {clearance:.0f} in.{breakable}",
            do="Choose a smaller expander, relieve the ground between, or cut open there.",
            **shared,
        )
    return Finding(
        Level.CAUTION,
        "WATCH_LINE",
        words + " It has been exposed.",
        do="Keep the hole open and watch the line while the head passes.",
        **shared,
    )
