"""The ground round a pull: other utilities inside its reach, cover, heave and frost.

Widening pushes the ground outward from the bore, so what lies close and cannot give, or must not
be touched, decides. Rules of local codes and of the utilities' owners come before these.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from replacements.domain.findings import Finding, Level, by_severity
from replacements.domain.pull_force.parameters import Parameter, load_parameters
from replacements.domain.reference_tables import cited


def ground_rule(code: str) -> Parameter:
    """Return one of the shipped rules of separation and cover, with its source."""
    return load_parameters("ground_rules")[code]


def _value(code: str) -> float:
    return ground_rule(code).default


def _source(code: str) -> str:
    rule = ground_rule(code)
    return cited(rule.source, rule.mark)


class UtilityKind(StrEnum):
    """What the other line is."""

    WATER = "WATER"
    SEWER = "SEWER"
    STORM = "STORM"
    GAS = "GAS"
    ELECTRIC = "ELECTRIC"
    FIBRE = "FIBRE"
    TELEPHONE = "TELEPHONE"
    STEAM = "STEAM"
    OTHER = "OTHER"

    @property
    def sensitive(self) -> bool:
        """Gas, electric and fibre keep the larger floor; so does what nobody could name."""
        return self in {UtilityKind.GAS, UtilityKind.ELECTRIC, UtilityKind.FIBRE, UtilityKind.OTHER}


@dataclass(frozen=True)
class OtherLine:
    """Another utility near the run.

    separation_in : clear distance from the old pipe's centreline, in; None when not known
    crossing : it crosses the run; otherwise it runs alongside
    exposed : dug up by hand or vacuum, seen and measured
    rigid : cast iron, clay or asbestos cement, which break and do not bend
    at_ft : station of the crossing
    """

    kind: UtilityKind
    separation_in: float | None
    crossing: bool = True
    exposed: bool = False
    rigid: bool = False
    at_ft: float | None = None

    def __post_init__(self):
        """Refuse a distance below zero.

        Raises
        ------
        ValueError
            If the separation is below zero.
        """
        if self.separation_in is not None and self.separation_in < 0:
            raise ValueError(f"A separation cannot be below zero: {self.separation_in:g} in.")


def clearance_in(expander_in: float, old_bore_in: float, dense_ground: bool = False) -> float:
    """Return how far another line must lie from the old pipe's centreline, in.

    Ten times the widening, twice that in cobble or dense ground; no floor applied.
    """
    factor = _value("DENSE_GROUND_FACTOR") if dense_ground else 1.0
    return max(_value("CLEARANCE_PER_WIDENING") * (expander_in - old_bore_in), 0.0) * factor


def required_separation_in(kind: UtilityKind, clearance: float) -> float:
    """Return the clearance with the floor of 12 in., or 24 in. for gas, electric and fibre."""
    return max(clearance, _value("SENSITIVE_FLOOR" if UtilityKind(kind).sensitive else "FLOOR"))


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
    name = line.kind.value.lower()
    if line.separation_in is None:
        return Finding(
            Level.STOP,
            "SEPARATION_UNKNOWN",
            f"The distance to the {name} line is not known.",
            _source("EXPOSE_WITHIN"),
            "Locate it, expose it by hand or vacuum, and measure.",
            at_ft=line.at_ft,
        )
    needed = required_separation_in(line.kind, clearance)
    expose = line.crossing and line.separation_in < _value("EXPOSE_WITHIN")
    if line.separation_in >= needed and not (expose and not line.exposed):
        return None
    return _close(line, name, needed, clearance)


def _close(line: OtherLine, name: str, needed: float, clearance: float) -> Finding:
    floored = needed > clearance
    words = f"The {name} line lies {line.separation_in:g} in. away; {needed:.0f} in. are wanted."
    shared = {
        "source": _source("EXPOSE_WITHIN" if floored else "CLEARANCE_PER_WIDENING"),
        "at_ft": line.at_ft,
        "value": line.separation_in,
    }
    if not line.exposed:
        return Finding(
            Level.STOP,
            "EXPOSE_FIRST",
            words + " It has not been exposed.",
            do="Dig it up by hand or vacuum before the pull, and call its owner.",
            **shared,
        )
    if line.separation_in < clearance:
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


class Surface(StrEnum):
    """What lies over the run."""

    LAWN = "LAWN"
    PAVEMENT = "PAVEMENT"
    SLAB = "SLAB"
    BRICK_WALK = "BRICK_WALK"
    DRIVEWAY = "DRIVEWAY"
    OTHER = "OTHER"


def heave_free_cover_ft(expander_in: float, old_outside_in: float) -> float:
    """Return the cover at which the surface does not move, ft; at least 2 ft."""
    widening_in = max(expander_in - old_outside_in, 0.0)
    return max(_value("CLEARANCE_PER_WIDENING") * widening_in / 12, _value("HEAVE_COVER"))


def check_heave(
    cover_ft: float,
    expander_in: float,
    old_outside_in: float,
    surfaces: Iterable[Surface] = (),
) -> list[Finding]:
    """Return whether the surface may lift, and which surfaces to watch."""
    needed = heave_free_cover_ft(expander_in, old_outside_in)
    found = []
    if cover_ft < needed:
        found.append(
            Finding(
                Level.CAUTION,
                "HEAVE",
                f"With {cover_ft:g} ft of cover the surface may lift; {needed:.1f} ft would hold.",
                _source("HEAVE_COVER"),
                "Watch and level the surface, choose a smaller expander, or cut open there.",
                value=cover_ft,
            )
        )
    watched = sorted(s.value for s in set(surfaces) if s is not Surface.LAWN)
    if watched:
        names = ", ".join(watched).lower().replace("_", " ")
        found.append(
            Finding(
                Level.NOTE,
                "WATCH_SURFACE",
                f"The run passes under: {names}.",
                "common practice, no source",
                "Photograph before and after, and watch while the head passes.",
            )
        )
    return found


def check_cover(
    cover_ft: float,
    required_cover_ft: float | None = None,
    frozen_to_ft: float = 0.0,
) -> list[Finding]:
    """Return whether the old line's depth serves the new one, and whether frost reaches it.

    `required_cover_ft` is the local code's; None when nobody has entered it.
    """
    found = []
    if frozen_to_ft >= cover_ft:
        found.append(
            Finding(
                Level.STOP,
                "FROZEN_AT_PIPE",
                f"The ground is frozen to {frozen_to_ft:g} ft and the pipe lies at {cover_ft:g} "
                "ft: the slit shell cannot open.",
                "planning rule of this program [judgement]",
                "Wait for thaw, or cut open.",
                value=frozen_to_ft,
            )
        )
    if required_cover_ft is None:
        found.append(
            Finding(
                Level.NOTE,
                "COVER_RULE_UNKNOWN",
                "The local code's least cover has not been entered.",
                "local code",
                "Enter it; some northern codes ask for 7 to 7.5 ft.",
            )
        )
    elif cover_ft < required_cover_ft:
        found.append(
            Finding(
                Level.CAUTION,
                "COVER_TOO_SHALLOW",
                f"The new pipe would follow the old one at {cover_ft:g} ft; the local code asks "
                f"for {required_cover_ft:g} ft.",
                "local code",
                "Ask for a ruling, insulate as the code allows, or lay the pipe deeper by another "
                "method.",
                value=cover_ft,
            )
        )
    return found
