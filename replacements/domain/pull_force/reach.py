"""How long a run these pipes, this gear and this ground allow, and where to set the relief.

The longest run is found with everything else as planned: the same soil, cover, string and limits,
and the bends and joints that lie within the shorter run.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from replacements.domain.hydraulics import relief_setting_psi
from replacements.domain.pull_force.case import PullCase
from replacements.domain.pull_force.estimate import LearnedFactor, estimated_checks
from replacements.domain.pull_force.verdict import Check, governing

MOST_FT = 300.0  # nothing longer is a service line
NEAR_FT = 0.25
STEPS = 2048  # between the two


@dataclass(frozen=True)
class Reach:
    """The longest runs at which the high estimates keep to a share of every limit.

    easy_ft : no use above USE_CAUTION; most_ft : none above USE_STOP. 0 where no run does, MOST_FT
        where every service line does
    held_by : the part that is used most at most_ft
    """

    easy_ft: float
    most_ft: float
    held_by: str


def longest_run(
    case: PullCase, calibration: LearnedFactor | Mapping[str, LearnedFactor] | None = None
) -> Reach | None:
    """Return the longest run for a pull as planned; None while a rating is missing."""
    if any(check.use is None for check in estimated_checks(case, calibration)):
        return None

    @cache  # both searches begin with the same lengths
    def checked(length_ft: float) -> tuple[Check, ...]:
        return estimated_checks(_of_length(case, length_ft), calibration)

    values = case.parameter_set
    most_ft = _longest(checked, values["USE_STOP"])
    return Reach(
        easy_ft=_longest(checked, values["USE_CAUTION"]),
        most_ft=most_ft,
        held_by=governing(checked(max(most_ft, NEAR_FT))).name,
    )


def _longest(checked, share: float) -> float:
    """Return the longest run whose greatest use is at most a share; use grows with length.

    Each use grows nearly straight with it, so that by turns the step is tried where the first
    line would reach the share, the step after it, and the middle.
    """

    def kept(step: int) -> bool:
        return all(check.use <= share for check in checked(_length(step)))

    if not kept(0):
        return 0.0
    if kept(STEPS):
        return MOST_FT
    low, high, turn = 0, STEPS, 0
    while high - low > 1:
        ends = zip(checked(_length(low)), checked(_length(high)), strict=True)
        straight = min((share - a.use) / (b.use - a.use) for a, b in ends if b.use > share)
        step = (low + int((high - low) * straight), low + 1, (low + high) // 2)[turn % 3]
        step, turn = min(max(step, low + 1), high - 1), turn + 1
        low, high = (step, high) if kept(step) else (low, step)
    return _length(low)


def _length(step: int) -> float:
    return NEAR_FT + (MOST_FT - NEAR_FT) * step / STEPS


def _of_length(case: PullCase, length_ft: float) -> PullCase:
    return replace(
        case,
        length_ft=length_ft,
        bends=tuple(bend for bend in case.bends if bend.station_ft <= length_ft),
        joints=tuple(joint for joint in case.joints if joint.station_ft <= length_ft),
    )


def relief_psi(
    limit_lbf: float | None, bore_in: float | None, rod_in: float | None, cylinders: int = 1
) -> float | None:
    """Return the highest relief pressure that keeps the total below its weakest part, psi.

    None while the limit or the puller's cylinder is not known. Friction is not counted, for it is
    not a safety device. The new pipe is not protected by it: only a break-away link is.

    Raises
    ------
    BadCylinder: if the bore and rod cannot be.
    """
    if not limit_lbf or not bore_in:
        return None
    return relief_setting_psi([limit_lbf], bore_in, rod_in or 0.0, cylinders=cylinders)
