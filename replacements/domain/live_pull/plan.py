"""What a live pull is held against: the limit, the estimate's band, joints and bends."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from replacements.domain.pull_force import Bend, ForceEstimate, Joint, JointKind


class BandPoint(NamedTuple):
    """The estimate of the total with the head at a station: percentiles 10, 50 and 90, lbf."""

    station_ft: float
    low_lbf: float
    expected_lbf: float
    high_lbf: float


class Mark(NamedTuple):
    """Something on the run; high_lbf is what the total may reach there, None where not known.

    kind : joint, bend or end
    """

    station_ft: float
    kind: str
    name: str
    high_lbf: float | None = None


@dataclass(frozen=True)
class LivePlan:
    """What a live pull is held against, fixed when its feed starts.

    limit_lbf, limited_by : the lowest allowable load of what carries the total, and the part;
        None where no limit is known
    band : the estimate along the run, empty without an estimate
    marks : joints, bends and the end of the run, by station
    """

    length_ft: float
    limit_lbf: float | None
    limited_by: str
    band: tuple[BandPoint, ...] = ()
    marks: tuple[Mark, ...] = ()

    def band_at(self, station_ft: float, near_ft: float = 0.0) -> BandPoint | None:
        """Return the estimate at a station, None without one or outside the run.

        near_ft : a joint this near may be under the blade, so its force counts
        """
        for left, right in zip(self.band, self.band[1:], strict=False):
            if left.station_ft <= station_ft <= right.station_ft:
                span = right.station_ft - left.station_ft
                share = (station_ft - left.station_ft) / span if span else 0.0
                pairs = zip(left[1:], right[1:], strict=True)
                low, expected, high = (a + share * (b - a) for a, b in pairs)
                here = (m for m in self.marks if abs(m.station_ft - station_ft) <= near_ft)
                return BandPoint(
                    station_ft, low, expected, max([high, *(m.high_lbf or 0.0 for m in here)])
                )
        return None


def live_plan(
    length_ft: float,
    limit_lbf: float | None,
    limited_by: str,
    *,
    bends: Iterable[Bend] = (),
    joints: Iterable[Joint] = (),
    made: ForceEstimate | None = None,
) -> LivePlan:
    """Return the plan of a pull, with the band of its estimate where there is one."""
    spikes = {spike.joint.station_ft: spike.total_lbf for spike in made.joints} if made else {}
    high = made.high_lbf / made.expected_lbf if made else 0.0
    marks = [
        *(Mark(b.station_ft, "bend", f"bend {b.degrees:g}\N{DEGREE SIGN}") for b in bends),
        *(_joint(j, spikes.get(j.station_ft), high) for j in joints),
        Mark(length_ft, "end", "end of the run"),
    ]
    return LivePlan(
        length_ft,
        limit_lbf,
        limited_by,
        _band(made),
        tuple(sorted(marks, key=lambda m: m.station_ft)),
    )


def _joint(joint: Joint, expected_lbf: float | None, high: float) -> Mark:
    name = joint.kind.label if joint.kind is JointKind.CURB_STOP else f"{joint.kind.label} joint"
    force = None if expected_lbf is None else expected_lbf * high
    return Mark(joint.station_ft, "joint", name, force)


def _band(made: ForceEstimate | None) -> tuple[BandPoint, ...]:
    if made is None:
        return ()
    low, high = (end / made.expected_lbf for end in (made.low_lbf, made.high_lbf))
    return tuple(
        BandPoint(p.station_ft, p.total_lbf * low, p.total_lbf, p.total_lbf * high)
        for p in made.profile
    )
