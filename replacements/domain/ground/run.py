"""One run's ground as a whole: what stands against widening the hole, and what to watch."""

from dataclasses import dataclass

from replacements.domain.findings import Finding, Level, by_severity
from replacements.domain.ground.clearance import OtherLine, check_clearances
from replacements.domain.ground.rules import source_of
from replacements.domain.ground.surface import Surface, check_cover, check_heave
from services_inventory.domain.labels import Labeled

PLANNING = "planning rule of this program [judgment]"


class GroundCondition(Labeled):
    """Something seen or known of the place that decides how, or whether, a run can be pulled."""

    ROCK = "ROCK", "rock at the pipe"
    FLOWABLE_FILL = "FLOWABLE_FILL", "flowable fill round the pipe"
    CONCRETE = "CONCRETE", "concrete round the pipe"
    DENSE_GROUND = "DENSE_GROUND", "cobble or dense ground"
    NOT_THREADABLE = "NOT_THREADABLE", "a rod or camera could not pass the bore"
    NO_NEW_ROUTE = "NO_NEW_ROUTE", "no straight route beside the old line is open"
    CONGESTED = "CONGESTED", "many other lines beside the old one"
    TIGHT_YARD = "TIGHT_YARD", "no room for a large pit or a rig"
    ROAD_CROSSING = "ROAD_CROSSING", "the run passes under a road"
    OPEN_WORKS = "OPEN_WORKS", "the ground is opened here anyway"
    LEAD_MUST_LEAVE = "LEAD_MUST_LEAVE", "the old lead must leave the ground"


NOT_WIDENED = {
    GroundCondition.ROCK: "Rock at the pipe cannot be widened.",
    GroundCondition.FLOWABLE_FILL: "Flowable fill cannot be widened.",
    GroundCondition.CONCRETE: "Concrete round the pipe cannot be widened.",
}


@dataclass(frozen=True)
class GroundOfRun:
    """What is on record of the ground along one run.

    expander_in : greatest diameter that passes; None where nothing is widened, as in a trench
    hole_in : size of the hole before it is widened: the old pipe's bore, 0 for a new bore
    old_outside_in : outside diameter of the old pipe
    lines : other utilities near the run
    looked_for : marks, maps and owners were asked, so that what is not in `lines` is not there
    required_cover_ft : the local code's least cover, None where nobody has entered it
    frozen_to_ft : depth of frost, 0 for none
    """

    expander_in: float | None
    hole_in: float
    old_outside_in: float
    cover_ft: float | None
    lines: tuple[OtherLine, ...] = ()
    looked_for: bool = False
    surfaces: frozenset[Surface] = frozenset()
    conditions: frozenset[GroundCondition] = frozenset()
    required_cover_ft: float | None = None
    frozen_to_ft: float = 0.0


def check_ground(ground: GroundOfRun) -> list[Finding]:
    """Return everything the ground says about a run, the worst first."""
    found = list(_looked_for(ground))
    if ground.expander_in is None:
        found += _in_a_trench(ground)
    else:
        found += check_clearances(
            ground.lines,
            ground.expander_in,
            ground.hole_in,
            GroundCondition.DENSE_GROUND in ground.conditions,
        )
        found += _not_widened(ground)
    return by_severity([*found, *_depth(ground)])


def _looked_for(ground: GroundOfRun):
    if not ground.looked_for:
        yield Finding(
            Level.CAUTION,
            "OTHER_LINES_NOT_LOOKED_FOR",
            "Nobody has recorded that other lines near the run were looked for.",
            source_of("EXPOSE_WITHIN"),
            "Look at marks and maps, ask the owners of private lines, and record the day.",
        )


def _in_a_trench(ground: GroundOfRun):
    for line in ground.lines:
        yield Finding(
            Level.CAUTION,
            "DIG_BY_HAND",
            f"The trench passes the {line.label}.",
            "State one-call law; common practice, no source",
            "Dig by hand or vacuum within the tolerance zone of its mark.",
            at_ft=line.at_ft,
        )


def _not_widened(ground: GroundOfRun):
    for condition, message in NOT_WIDENED.items():
        if condition in ground.conditions:
            yield Finding(Level.STOP, condition.value, message, PLANNING, "Choose an open cut.")


def _depth(ground: GroundOfRun):
    if ground.cover_ft is None:
        return
    if ground.expander_in is not None:
        yield from check_heave(
            ground.cover_ft, ground.expander_in, ground.old_outside_in, ground.surfaces
        )
    frost = ground.frozen_to_ft if ground.expander_in is not None else 0.0
    yield from check_cover(ground.cover_ft, ground.required_cover_ft, frost)
