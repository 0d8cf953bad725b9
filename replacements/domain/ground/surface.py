"""What lies over the run: cover, frost, and surfaces that may lift."""

from collections.abc import Iterable

from replacements.domain.findings import Finding, Level
from replacements.domain.ground.rules import source_of, value_of
from services_inventory.domain.labels import Labeled


class Surface(Labeled):
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
    return max(value_of("CLEARANCE_PER_WIDENING") * widening_in / 12, value_of("HEAVE_COVER"))


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
                source_of("HEAVE_COVER"),
                "Watch and level the surface, choose a smaller expander, or cut open there.",
                value=cover_ft,
            )
        )
    watched = sorted(s.label for s in set(surfaces) if s is not Surface.LAWN)
    if watched:
        found.append(
            Finding(
                Level.NOTE,
                "WATCH_SURFACE",
                f"The run passes under: {', '.join(watched)}.",
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
                "planning rule of this program [judgment]",
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
