"""Two checks, and what they come to: GO, CAUTION or NO_GO.

The high estimate of the TOTAL is held against every part that carries it; the high estimate of
the DRAG behind the expander against the new pipe and its grip. A cable is never excused by a strong
pipe, nor a pipe by a strong cable.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from replacements.domain.findings import Finding, Level, by_severity, worst
from replacements.domain.methods import Method
from replacements.domain.pull_force.arching import SQUEEZING
from replacements.domain.pull_force.assumed import assumed_told
from replacements.domain.pull_force.bends import bend_findings
from replacements.domain.pull_force.case import MORE_LIMITS, Condition, DragLimit, Limit, PullCase
from replacements.domain.pull_force.model import cut_joints
from replacements.domain.pull_force.pull_out import HOLDING, holding_psf, longest_pull_out_ft
from replacements.domain.pull_force.spread import Range
from replacements.domain.units import high_lb, limit_lb
from services_inventory.domain.certain import certain
from services_inventory.domain.labels import Labeled

PLANNING = "planning rule of this program [judgment]"


class Force(StrEnum):
    """TOTAL is carried by the cable and all before it, DRAG by the new pipe alone."""

    TOTAL = "TOTAL"
    DRAG = "DRAG"


class Verdict(Labeled):
    """What the estimate says; the competent person on site decides."""

    GO = "GO", "Go"
    CAUTION = "CAUTION", "Caution"
    NO_GO = "NO_GO", "No-go"


@dataclass(frozen=True)
class Check:
    """One part's allowable load against the high estimate of the force it carries.

    limit_lbf is None where no rating is known, and the use with it.
    """

    force: Force
    name: str
    high_lbf: float
    limit_lbf: float | None

    @property
    def use(self) -> float | None:
        return None if self.limit_lbf is None else self.high_lbf / self.limit_lbf

    @property
    def margin(self) -> float | None:
        """What is left above the high estimate, as a part of it; below zero, what lacks."""
        return None if self.limit_lbf is None else self.limit_lbf / self.high_lbf - 1


@dataclass(frozen=True)
class Squeeze:
    """Whether clay squeezes the hole shut, and the drag on the new pipe if it does, lb.

    half_depth_lbf : ground presses all along, half the cover bears on the pipe, no bends
    full_prism_lbf : the same with the whole cover, an upper bound
    with_bends_lbf : the whole cover, as far as clay can hold on to the pipe, multiplied by every
        bend the pipe has passed: the upper bound that is counted where the clay squeezes
    stability : overburden over the strength of the clay at its low end; None in sand
    shuts : the clay is too weak for its depth
    """

    half_depth_lbf: float
    full_prism_lbf: float
    with_bends_lbf: float
    stability: float | None = None
    shuts: bool = False


def checks(case: PullCase, total: Range, drag: Range) -> tuple[Check, ...]:
    """Return one check per part that carries the total, then each that carries the drag.

    The new pipe's is the first of the drag's; a link or pipe puller that is not given has none.
    """
    carries_total = [*(limit.value for limit in Limit), *_given(MORE_LIMITS, case.limits_lbf)]
    carries_drag = _given([limit.value for limit in DragLimit], case.drag_limits_lbf)
    return (
        *(Check(Force.TOTAL, n, total.high_lbf, case.limits_lbf.get(n)) for n in carries_total),
        Check(Force.DRAG, "NEW_PIPE", drag.high_lbf, pipe_limit_lbf(case)),
        *(Check(Force.DRAG, n, drag.high_lbf, case.drag_limits_lbf[n]) for n in carries_drag),
    )


def _given(names, limits) -> list[str]:
    return [name for name in names if name in limits]


def pipe_limit_lbf(case: PullCase) -> float | None:
    """Return the new pipe's allowable pull after its grip, None when no rating is known."""
    if case.pipe_allowable_lbf is None:
        return None
    grip = case.grip_efficiency or case.parameter_set["GRIP_EFFICIENCY"]
    return case.pipe_allowable_lbf * grip


def governing(found: tuple[Check, ...]) -> Check:
    """Return the check with no rating, otherwise that with the greatest use."""
    return max(found, key=lambda check: float("inf") if check.use is None else check.use)


def decide(findings: list[Finding]) -> Verdict:
    """Return NO_GO for any stop, CAUTION for any caution, otherwise GO."""
    found = worst(findings)
    if found is Level.STOP:
        return Verdict.NO_GO
    return Verdict.CAUTION if found is Level.CAUTION else Verdict.GO


def review(case: PullCase, found: tuple[Check, ...], squeeze: Squeeze) -> list[Finding]:
    """Return everything that speaks against the pull, the worst first."""
    return by_severity(
        [
            *_uses(case, found),
            *_conditions(case),
            *(_coming_out(case) if case.comes_out else _uncuttable(case)),
            *_doubts(case),
            *bend_findings(case),
            *_squeeze(squeeze),
            *_link(case),
        ]
    )


def _uses(case: PullCase, found: tuple[Check, ...]):
    stop, caution = case.parameter_set["USE_STOP"], case.parameter_set["USE_CAUTION"]
    for check in found:
        if check.use is None:
            yield Finding(
                Level.STOP,
                f"NO_RATING_{check.name}",
                f"No allowable load is known for {_part(check)}.",
                PLANNING,
                "Enter its rating from the certificate or tag before the pull.",
            )
        elif check.use > caution:
            yield Finding(
                Level.STOP if check.use > stop else Level.CAUTION,
                f"USE_{check.name}",
                f"The high estimate of the {_force(check)}, {high_lb(check.high_lbf)}, is "
                f"{use_told(check.use)} of what {_part(check)} may carry, "
                f"{limit_lb(certain(check.limit_lbf))}.",
                PLANNING,
                _relief(check),
                value=check.use,
            )


def use_told(use: float) -> str:
    """Return a use in whole percent, rounded up: what is above a limit never reads as 100%."""
    return f"{math.ceil(100 * use - 1e-9)}%"


def _part(check: Check) -> str:
    return "the " + part_told(check.name)


def part_told(name: str) -> str:
    """Return a part of the string or the pull in words."""
    return "break-away link" if name == "BREAKAWAY_LINK" else name.lower().replace("_", " ")


def _force(check: Check) -> str:
    return "total force" if check.force is Force.TOTAL else "drag behind the expander"


def _relief(check: Check) -> str:
    if check.name == DragLimit.BREAKAWAY_LINK:
        return (
            "It would part before the pull is through. Fit one that parts above this force and "
            "below the new pipe's limit, shorten the run, or choose a stronger new pipe."
        )
    if check.force is Force.DRAG:
        return "Shorten the run, choose a stronger new pipe or a lubricant, or dig at the bends."
    return "Dig out joints and bends, shorten the run, or use stronger gear throughout."


# Why each condition stops the pull, and what to do; the level in front.
CONDITIONS = {
    Condition.FROZEN_GROUND: (
        Level.STOP,
        "The ground is frozen at the pipe, so the slit shell cannot open.",
        "Wait for thaw, or cut open.",
    ),
    Condition.ROCK: (
        Level.STOP,
        "Rock at the pipe cannot be widened.",
        "Choose open cut or drilling.",
    ),
    Condition.FLOWABLE_FILL: (
        Level.STOP,
        "Flowable fill round the pipe cannot be widened.",
        "Choose open cut.",
    ),
    Condition.CONCRETE: (
        Level.STOP,
        "Concrete round the pipe cannot be widened.",
        "Break it out, or choose open cut.",
    ),
    Condition.THIN_END_PULLED: (
        Level.STOP,
        "The string pulls on the thin threading end of the cable, whatever the force.",
        "Turn the cable: thread with the thin end, pull on the thick one.",
    ),
    Condition.STRING_DOES_NOT_FIT: (
        Level.STOP,
        "The tool string does not fit these two pipes.",
        "See the string check.",
    ),
    Condition.UNVERIFIED_CROSSING: (
        Level.STOP,
        "Another line near the run has not been located or exposed, or lies within reach of the "
        "ground that is pushed aside.",
        "Expose it by hand or vacuum, measure, and see what the ground's findings ask.",
    ),
    Condition.OTHER_LINES_UNKNOWN: (
        Level.CAUTION,
        "Nobody has recorded that other lines near the run were looked for.",
        "Look at marks and maps, ask the owners of private lines, and record the day.",
    ),
    Condition.CABLE_HISTORY_UNKNOWN: (
        Level.CAUTION,
        "The cable's loads and inspections so far are not known.",
        "Inspect its whole length and record it, or use another cable.",
    ),
}


def _conditions(case: PullCase):
    for condition, (level, message, do) in CONDITIONS.items():
        if condition in case.conditions:
            yield Finding(level, condition.value, message, PLANNING, do)


def _uncuttable(case: PullCase):
    if case.material != "LEAD":
        pipe, rods = case.material.replace("_", " ").lower(), case.method is Method.ROD_SPLIT
        yield Finding(
            Level.STOP,
            "OLD_PIPE_NOT_LEAD",
            f"What splitting {pipe} pipe with rods takes, this estimate does not know."
            if rods
            else f"A lead blade cannot slit {pipe} pipe.",
            "common practice, no source",
            "Choose open cut." if rods else "Choose rods with a heavier head, or open cut.",
        )
    for joint in case.joints:
        if not joint.kind.cuttable:
            yield Finding(
                Level.STOP,
                "UNCUTTABLE_JOINT",
                f"The {joint.kind.value.replace('_', ' ').lower()} at {joint.station_ft:g} ft "
                "cannot be cut.",
                "common practice, no source",
                "Dig it out before the pull.",
                at_ft=joint.station_ft,
            )


def _coming_out(case: PullCase):
    """Yield what speaks against drawing the old pipe out whole."""
    values = case.parameter_set
    held = holding_psf(case.ground, case.cover_ft, values)
    most_ft = longest_pull_out_ft(case.old_pipe, held, values["LEAD_TENSION"])
    most_ft *= values["PULL_OUT_FRACTION"]
    if case.material == "LEAD" and case.length_ft > most_ft:
        yield Finding(
            Level.STOP,
            "OLD_PIPE_TEARS",
            f"The ground holds the old pipe so fast that its lead tears: {case.length_ft:g} ft "
            f"are to come out, {math.floor(most_ft)} ft at most are planned.",
            HOLDING,
            "Cut the run shorter, slit the pipe in place, or cut open.",
            value=most_ft,
        )
    for joint in case.joints:
        yield Finding(
            Level.CAUTION,
            "JOINT_CATCHES",
            f"The {joint.kind.label} joint at {joint.station_ft:g} ft is wider than the pipe and "
            "catches in the ground.",
            "common practice, no source",
            "Dig it out before the pull.",
            at_ft=joint.station_ft,
        )


def _doubts(case: PullCase):
    values = case.parameter_set
    if case.bends_deg > values["BENDS_CAUTION"]:
        yield _caution(
            "BENDS",
            f"The bends add up to {case.bends_deg:.0f} degrees, above "
            f"{values['BENDS_CAUTION']:.0f}.",
            "Split the run at a bend.",
        )
    joints = len(cut_joints(case))
    if joints > values["JOINTS_CAUTION"]:
        yield _caution(
            "JOINTS",
            f"{joints} wiped joints are left in the run.",
            "Dig out all but one.",
        )
    if case.wet_sand and "groundwater" not in case.assumed:
        yield _caution(
            "WET_SAND",
            "Sand below the water table runs into the hole and presses on the new pipe all along.",
            "Keep the pull moving from start to end; lower the water if that can be done.",
        )
    if case.grip_efficiency is None:
        yield _caution(
            "GRIP_ASSUMED",
            f"The grip is not known; {values['GRIP_EFFICIENCY']:.0%} of the pipe's strength "
            "is counted.",
            "Enter the grip in use.",
        )
    for name in sorted(case.assumed):
        yield _caution(f"ASSUMED_{name.upper()}", *assumed_told(name))


def _caution(rule: str, message: str, do: str) -> Finding:
    return Finding(Level.CAUTION, rule, message, PLANNING, do)


def _squeeze(squeeze: Squeeze):
    if squeeze.shuts:
        yield Finding(
            Level.CAUTION,
            "HOLE_SQUEEZES_SHUT",
            f"The cover is {squeeze.stability:.1f} times what the clay may bear at its weakest, so "
            f"it can squeeze the hole shut; the drag could then reach "
            f"{high_lb(squeeze.with_bends_lbf)}, which is counted as the high estimate.",
            SQUEEZING,
            "Measure the clay's strength in the pit. Make no stop between start and end; fit a "
            "break-away link at the pipe.",
            value=squeeze.with_bends_lbf,
        )


def _link(case: PullCase):
    link, pipe = case.drag_limits_lbf.get(DragLimit.BREAKAWAY_LINK), pipe_limit_lbf(case)
    if link is not None and pipe is not None and link > pipe and link < math.inf:
        yield Finding(
            Level.STOP,
            "LINK_ABOVE_PIPE",
            f"The break-away link parts at {high_lb(link)}; the new pipe by its grip may bear "
            f"{limit_lb(pipe)}. It would not protect the pipe.",
            PLANNING,
            "Fit a link that parts below the new pipe's limit.",
            value=link,
        )


def anchor_capacity_lbf(plate_area_ft2: float, soil_psf: float) -> float:
    """Return what a bearing plate may push on, lb.

    Raises
    ------
    ValueError: if the area or the allowable pressure of the ground is not above zero.
    """
    if not (plate_area_ft2 > 0 and soil_psf > 0 and math.isfinite(plate_area_ft2 * soil_psf)):
        raise ValueError("The bearing plate's area and the soil's pressure must be above zero.")
    return plate_area_ft2 * soil_psf
