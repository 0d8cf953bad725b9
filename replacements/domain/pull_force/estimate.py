"""The estimate: both forces with their spread, what governs, and the verdict."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

from replacements.domain.findings import Finding
from replacements.domain.methods import Method
from replacements.domain.pull_force.arching import DragBasis, stability_number
from replacements.domain.pull_force.case import Joint, PullCase
from replacements.domain.pull_force.model import (
    SOIL_STRENGTH,
    Run,
    cut_joints,
    ground_psf,
    joint_slit,
    prism_drag_lbf,
    run,
    squeezed_per_ft,
)
from replacements.domain.pull_force.soils import SoilFamily
from replacements.domain.pull_force.spread import (
    Drawn,
    Range,
    central,
    draw,
    intervals,
    lognormal_range,
)
from replacements.domain.pull_force.verdict import (
    Check,
    Force,
    Squeeze,
    Verdict,
    checks,
    decide,
    governing,
    review,
)

PROFILE_STEPS = 60


class LearnedFactor(Protocol):
    """What accepted pulls in this soil have taught (see `replacements.domain.learning`)."""

    bias_factor: float
    sigma_ln: float
    parameter_set: str
    id: str


class ProfilePoint(NamedTuple):
    """Both forces with the head at a station; a bend has two points, before and after it."""

    station_ft: float
    total_lbf: float
    drag_lbf: float


class JointSpike(NamedTuple):
    """The total while a wiped joint is cut, lb."""

    joint: Joint
    total_lbf: float


@dataclass(frozen=True)
class ForceParts:
    """What the expected total is made of where it is greatest, lb; the parts add up to it.

    joint : what cutting a wiped joint adds to slitting plain pipe
    hold : of the ground on what of an old pipe drawn out is still in it
    bends : what bends ahead of the head add to all the others
    learned : what the factor that logs of pulls taught adds to all of them, below zero what it
        takes away; it is learned from totals and never moves a part by itself
    """

    slit: float
    open_shell: float
    expand_soil: float
    joint: float
    drag: float
    bends: float
    learned: float = 0.0
    hold: float = 0.0

    @property
    def total(self) -> float:
        return sum(getattr(self, name) for name in self.__dataclass_fields__)

    def with_learned(self, factor: float) -> "ForceParts":
        return replace(self, learned=(factor - 1) * (self.total - self.learned))


@dataclass(frozen=True)
class ForceEstimate:
    """A planning estimate of one pull, in lb.

    low_lbf, expected_lbf, high_lbf : percentiles 10, 50 and 90 of the greatest total, joints
        included; `total` is the same as a Range, `run` leaves the joints out
    parts : what the expected total is made of
    limit_lbf, limited_by : the lowest allowable load among the parts that carry the total, and
        which part it is; None where a rating is missing. The new pipe is never among them.
    pipe_limit_lbf : allowable drag on the new pipe, grip counted
    drag_limit_lbf, drag_limited_by : the lowest among new pipe, break-away link and pipe puller;
        None where one is fitted and unrated
    drag : Range of the drag behind the expander at the end of the run; no log at the puller
        measures it, so that nothing learned moves it
    drag_basis : what the high end of the drag rests on
    ground_psf : pressure of the arching ground on the new pipe
    start_lbf, end_lbf : expected total at the first and last foot
    checks, governs : every part's use of its limit, and the one with most use
    soil_pressure_psf, drag_per_ft : inner values, to check by hand
    simple_total, simple_drag : the ranges by SIGMA_LN alone
    parameter_set : id of the utility's constants
    calibration : id of what was learned, empty for none
    """

    low_lbf: float
    expected_lbf: float
    high_lbf: float
    parts: ForceParts
    limit_lbf: float | None
    limited_by: str | None
    verdict: Verdict
    findings: tuple[Finding, ...]
    case: PullCase
    run: Range
    drag: Range
    joints: tuple[JointSpike, ...]
    start_lbf: float
    peak_ft: float
    end_lbf: float
    pipe_limit_lbf: float | None
    checks: tuple[Check, ...]
    governs: Check
    squeeze: Squeeze
    profile: tuple[ProfilePoint, ...]
    drawn: Drawn
    simple_total: Range
    simple_drag: Range
    soil_pressure_psf: float
    drag_per_ft: float
    bias_factor: float
    sigma_ln: float
    parameter_set: str
    calibration: str
    drag_limit_lbf: float | None
    drag_limited_by: str | None
    drag_basis: DragBasis
    ground_psf: float

    @property
    def total(self) -> Range:
        return Range(self.low_lbf, self.expected_lbf, self.high_lbf)

    @property
    def margin(self) -> float | None:
        """What is left of the governing limit above the high estimate; None if unrated."""
        return self.governs.margin


def estimate(
    case: PullCase,
    calibration: LearnedFactor | Mapping[str, LearnedFactor] | None = None,
) -> ForceEstimate:
    """Return the estimate of a pull.

    Parameters
    ----------
    case : PullCase
        the pull as planned
    calibration : Calibration, or a mapping of soil codes to them
        what logs of pulls taught. It moves the total only: a log at the puller says nothing of
        the drag alone, which it neither raises nor lowers.

    Returns
    -------
    ForceEstimate, forces in lb

    Raises
    ------
    ValueError: if the calibration was learned with other constants than the case's.

    """
    forces = _forces(case, calibration)
    learned, pull, squeeze = forces.learned, forces.pull, forces.squeeze
    total, drag = forces.totals["total"], forces.drag
    found = checks(case, total, drag)
    findings = review(case, found, squeeze)
    return ForceEstimate(
        low_lbf=total.low_lbf,
        expected_lbf=total.expected_lbf,
        high_lbf=total.high_lbf,
        parts=_parts(pull).with_learned(forces.bias),
        **_limits(found),
        verdict=decide(findings),
        findings=tuple(findings),
        case=case,
        run=forces.totals["run"],
        simple_total=forces.totals["simple_total"],
        drag=drag,
        **_along(pull, forces.bias),
        checks=found,
        governs=governing(found),
        squeeze=squeeze,
        drawn=forces.drawn,
        simple_drag=_simple_drag(pull),
        soil_pressure_psf=pull.soil_pressure_psf,
        drag_per_ft=pull.drag_per_ft,
        bias_factor=forces.bias,
        sigma_ln=forces.sigma,
        parameter_set=case.constants.id,
        calibration=learned.id if learned else "",
        drag_basis=forces.basis,
        ground_psf=ground_psf(case, pull.values),
    )


class _Forces(NamedTuple):
    """The forces of a pull, and what they come from."""

    learned: LearnedFactor | None
    pull: Run
    bias: float
    sigma: float
    drawn: Drawn
    squeeze: Squeeze
    basis: DragBasis
    totals: dict[str, Range]
    drag: Range


def _forces(case: PullCase, calibration) -> _Forces:
    learned = _learned(case, calibration)
    pull = run(case, central(intervals(case)))
    bias = learned.bias_factor if learned else 1.0
    sigma = learned.sigma_ln if learned else case.parameter_set["SIGMA_LN"]
    drawn = draw(case)
    squeeze = _squeeze(case, pull)
    basis, worst = _worst(pull, squeeze)
    totals = _totals(pull, bias, sigma, None if learned else drawn, worst)
    drag = _drag(pull, drawn, worst)
    return _Forces(learned, pull, bias, sigma, drawn, squeeze, basis, totals, drag)


def estimated_checks(
    case: PullCase,
    calibration: LearnedFactor | Mapping[str, LearnedFactor] | None = None,
) -> tuple[Check, ...]:
    """Return how much of each limit the estimate of a pull uses; the same as its `checks`.

    Quicker than `estimate` where nothing else of it is asked for, as by a search over many runs.
    """
    forces = _forces(case, calibration)
    return checks(case, forces.totals["total"], forces.drag)


def _learned(case: PullCase, calibration) -> LearnedFactor | None:
    if case.method is not Method.SPLIT:
        return None  # it was learned from pulls that slit
    if isinstance(calibration, Mapping):
        calibration = calibration.get(case.ground.code)
    if calibration and calibration.parameter_set != case.constants.id:
        raise ValueError(
            f"The calibration was learned with the constants {calibration.parameter_set}, the "
            f"estimate uses {case.constants.id}: calibrate again from pulls estimated with these."
        )
    return calibration


def _worst(pull: Run, squeeze: Squeeze) -> tuple[DragBasis, Run | None]:
    """Return what the high end of the drag rests on, and the pull with it; None for the arch."""
    case = pull.case
    if squeeze.shuts:
        closed = squeezed_per_ft(case, pull.values)
        return DragBasis.SQUEEZED_CLAY, replace(pull, drag_per_ft=closed)
    if case.wet_sand:
        soaked = run(case, {**pull.values, **_weakest_arch(case)})
        worst = replace(pull, values=soaked.values, drag_per_ft=soaked.drag_per_ft)
        return DragBasis.RUNNING_SAND, worst
    return (DragBasis.DEPTH_TABLE if case.depth_table else DragBasis.ARCHING), None


def _weakest_arch(case: PullCase) -> dict[str, float]:
    """Return what the arch and the friction under it rest on, each at its unfavorable end."""
    found = intervals(case)
    return {
        "ARCH_RATIO": found["ARCH_RATIO"].low,
        "ARCH_WIDTH": found["ARCH_WIDTH"].high,
        "PIPE_FRICTION": found["PIPE_FRICTION"].high,
        "CONTACT_FRACTION": found["CONTACT_FRACTION"].high,
        SOIL_STRENGTH: found[SOIL_STRENGTH].low,
    }


def _totals(
    pull: Run, bias: float, sigma: float, drawn: Drawn | None, worst: Run | None
) -> dict[str, Range]:
    """Return the total's ranges; once pulls have taught the spread, draws no longer widen it."""
    simple = lognormal_range(pull.peak() * bias, sigma)
    total = simple if drawn is None else simple.wider(drawn.total)
    return {
        "total": _up_to(total, worst.peak() * max(bias, 1.0) if worst else 0.0),
        "simple_total": simple,
        "run": lognormal_range(pull.run_peak() * bias, sigma),
    }


def _simple_drag(pull: Run) -> Range:
    return lognormal_range(pull.drag(pull.case.length_ft), pull.case.parameter_set["SIGMA_LN"])


def _drag(pull: Run, drawn: Drawn, worst: Run | None) -> Range:
    drag = _simple_drag(pull).wider(drawn.drag)
    return _up_to(drag, worst.drag(pull.case.length_ft) if worst else 0.0)


def _up_to(found: Range, bound_lbf: float) -> Range:
    """Return a range whose high end reaches a bound; 0 where there is none."""
    return replace(found, high_lbf=max(found.high_lbf, bound_lbf))


def _squeeze(case: PullCase, pull: Run) -> Squeeze:
    ground = case.ground
    full = prism_drag_lbf(
        ground.unit_weight_pcf,
        case.cover_ft,
        case.new_pipe.outside_in,
        case.length_ft,
        pull.values["LATERAL_RATIO"],
    )
    stability = None
    if ground.family is SoilFamily.CLAY:
        stability = stability_number(ground.unit_weight_pcf, case.cover_ft, ground.strength_low)
    closed = replace(pull, drag_per_ft=squeezed_per_ft(case, pull.values))
    return Squeeze(
        full / 2,
        full,
        closed.drag(case.length_ft),
        stability,
        stability is not None and stability >= pull.values["SQUEEZE_NUMBER"],
    )


def _limits(found: tuple[Check, ...]) -> dict:
    """Return the lowest rating of either force, none where one is missing, and the pipe's own."""
    limit_lbf, limited_by = _weakest(found, Force.TOTAL)
    drag_limit_lbf, drag_limited_by = _weakest(found, Force.DRAG)
    return {
        "limit_lbf": limit_lbf,
        "limited_by": limited_by,
        "drag_limit_lbf": drag_limit_lbf,
        "drag_limited_by": drag_limited_by,
        "pipe_limit_lbf": next(c.limit_lbf for c in found if c.name == "NEW_PIPE"),
    }


def _weakest(found: tuple[Check, ...], force: Force) -> tuple[float | None, str | None]:
    parts = [check for check in found if check.force is force]
    known = [(check.limit_lbf, check.name) for check in parts if check.limit_lbf is not None]
    if len(known) < len(parts):
        return None, None
    return min(known, key=lambda limit: limit[0])


def _along(pull: Run, bias: float) -> dict:
    length_ft = pull.case.length_ft
    return {
        "joints": tuple(
            JointSpike(joint, pull.joint(joint) * bias) for joint in cut_joints(pull.case)
        ),
        "start_lbf": pull.total(0.0) * bias,
        "peak_ft": max(pull.walk(), key=lambda point: point[2])[0],
        "end_lbf": pull.total(length_ft) * bias,
        "profile": tuple(_profile(pull, bias)),
    }


def _profile(pull: Run, bias: float):
    length_ft = pull.case.length_ft
    bends = {bend.station_ft for bend in pull.case.all_bends}
    even = {length_ft * step / PROFILE_STEPS for step in range(PROFILE_STEPS + 1)}
    for station_ft in sorted(even | bends):
        yield _point(pull, bias, station_ft, passed=False)
        if station_ft in bends:
            yield _point(pull, bias, station_ft, passed=True)


def _point(pull: Run, bias: float, station_ft: float, passed: bool) -> ProfilePoint:
    return ProfilePoint(
        station_ft, pull.total(station_ft, passed) * bias, pull.drag(station_ft, passed)
    )


def _parts(pull: Run) -> ForceParts:
    """Split the greatest total; its station is a joint's or the peak's between joints."""
    station_ft, _, peak = max(pull.walk(), key=lambda point: point[2])
    extra, slit = 0.0, pull.slit
    for joint in cut_joints(pull.case):
        if pull.joint(joint) > peak:
            station_ft, peak = joint.station_ft, pull.joint(joint)
            extra = joint_slit(pull, joint) - pull.slit
    drag, hold = pull.drag(station_ft), pull.hold(station_ft)
    bends = peak - (pull.head + extra + drag + hold)
    return ForceParts(slit, pull.open_shell, pull.expand_soil, extra, drag, bends, hold=hold)
