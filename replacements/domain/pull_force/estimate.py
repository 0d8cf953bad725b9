"""The estimate: both forces with their spread, what governs, and the verdict."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from replacements.domain.findings import Finding
from replacements.domain.pull_force.case import Joint, PullCase
from replacements.domain.pull_force.model import (
    Run,
    joint_slit,
    prism_drag_lbf,
    run,
)
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
    bends : what bends ahead of the head add to all the others
    """

    slit: float
    open_shell: float
    expand_soil: float
    joint: float
    drag: float
    bends: float

    @property
    def total(self) -> float:
        return self.slit + self.open_shell + self.expand_soil + self.joint + self.drag + self.bends

    def times(self, factor: float) -> "ForceParts":
        return ForceParts(*(factor * getattr(self, name) for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class ForceEstimate:
    """A planning estimate of one pull, in lb.

    low_lbf, expected_lbf, high_lbf : percentiles 10, 50 and 90 of the greatest total, joints
        included; `total` is the same as a Range, `run` leaves the joints out
    parts : what the expected total is made of
    limit_lbf, limited_by : the lowest allowable load among the parts that carry the total, and
        which part it is; None where a rating is missing. The new pipe is never among them.
    pipe_limit_lbf : allowable drag on the new pipe, grip counted
    drag : Range of the drag behind the expander at the end of the run
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
        what accepted pulls taught. It moves the total only: a log at the puller says nothing of
        the drag alone, so the drag is raised with it but never lowered.

    Returns
    -------
    ForceEstimate, forces in lb

    Raises
    ------
    ValueError
        If the calibration was learned with other constants than the case's.

    """
    learned = _learned(case, calibration)
    pull = run(case, central(intervals(case)))
    bias = learned.bias_factor if learned else 1.0
    sigma = learned.sigma_ln if learned else case.parameter_set["SIGMA_LN"]
    drawn = draw(case)
    squeeze = _squeeze(case, pull)
    totals = _totals(pull, bias, sigma, None if learned else drawn)
    total, drag = totals["total"], _drag(pull, max(bias, 1.0), drawn, squeeze)
    found = checks(case, total, drag)
    findings = review(case, found, squeeze)
    return ForceEstimate(
        low_lbf=total.low_lbf,
        expected_lbf=total.expected_lbf,
        high_lbf=total.high_lbf,
        parts=_parts(pull).times(bias),
        **_limits(found),
        verdict=decide(findings),
        findings=tuple(findings),
        case=case,
        run=totals["run"],
        simple_total=totals["simple_total"],
        drag=drag,
        **_along(pull, bias),
        checks=found,
        governs=governing(found),
        squeeze=squeeze,
        drawn=drawn,
        simple_drag=_simple_drag(pull),
        soil_pressure_psf=pull.soil_pressure_psf,
        drag_per_ft=pull.drag_per_ft,
        bias_factor=bias,
        sigma_ln=sigma,
        parameter_set=case.constants.id,
        calibration=learned.id if learned else "",
    )


def _learned(case: PullCase, calibration) -> LearnedFactor | None:
    if isinstance(calibration, Mapping):
        calibration = calibration.get(case.soil.code)
    if calibration and calibration.parameter_set != case.constants.id:
        raise ValueError(
            f"The calibration was learned with the constants {calibration.parameter_set}, the "
            f"estimate uses {case.constants.id}: calibrate again from pulls estimated with these."
        )
    return calibration


def _totals(pull: Run, bias: float, sigma: float, drawn: Drawn | None) -> dict[str, Range]:
    """Return the total's ranges; once pulls have taught the spread, draws no longer widen it."""
    simple = lognormal_range(pull.peak() * bias, sigma)
    total = simple if drawn is None else simple.wider(drawn.total)
    if pull.case.wet_sand:
        soaked = run(pull.case, {**pull.values, "CONTACT_FRACTION": 1.0}).peak() * bias
        total = Range(total.low_lbf, total.expected_lbf, max(total.high_lbf, soaked))
    return {
        "total": total,
        "simple_total": simple,
        "run": lognormal_range(pull.run_peak() * bias, sigma),
    }


def _simple_drag(pull: Run) -> Range:
    return lognormal_range(pull.drag(pull.case.length_ft), pull.case.parameter_set["SIGMA_LN"])


def _drag(pull: Run, bias: float, drawn: Drawn, squeeze: Squeeze) -> Range:
    drag = _simple_drag(pull).wider(drawn.drag).times(bias)
    if not pull.case.wet_sand:
        return drag
    return Range(drag.low_lbf, drag.expected_lbf, max(drag.high_lbf, squeeze.with_bends_lbf))


def _squeeze(case: PullCase, pull: Run) -> Squeeze:
    full = prism_drag_lbf(
        case.soil.unit_weight_pcf,
        case.cover_ft,
        case.new_pipe.outside_in,
        case.length_ft,
        pull.values["LATERAL_RATIO"],
    )
    straight = pull.drag_per_ft * case.length_ft
    return Squeeze(full / 2, full, full / 2 * pull.drag(case.length_ft) / straight)


def _limits(found: tuple[Check, ...]) -> dict:
    """Return the total's lowest rating and the pipe's; none if one of the total's is missing."""
    *parts, pipe = found
    rated = all(check.limit_lbf is not None for check in parts)
    weakest = min(parts, key=lambda check: check.limit_lbf) if rated else None
    return {
        "limit_lbf": weakest and weakest.limit_lbf,
        "limited_by": weakest and weakest.name,
        "pipe_limit_lbf": pipe.limit_lbf,
    }


def _along(pull: Run, bias: float) -> dict:
    length_ft = pull.case.length_ft
    return {
        "joints": tuple(
            JointSpike(joint, pull.joint(joint) * bias)
            for joint in pull.case.joints
            if joint.kind.cuttable
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
    for joint in pull.case.joints:
        if joint.kind.cuttable and pull.joint(joint) > peak:
            station_ft, peak = joint.station_ft, pull.joint(joint)
            extra = joint_slit(pull, joint) - pull.slit
    drag = pull.drag(station_ft)
    straight = pull.head + extra + drag
    return ForceParts(slit, pull.open_shell, pull.expand_soil, extra, drag, peak - straight)
