"""Samples as a device sends them: late, twice, out of order; each counts once."""

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

CELL_FT = 0.5


class Sample(NamedTuple):
    """One sample of a feed.

    sequence : the device's own count, which tells samples apart and gives their order
    time_s : by the device's clock, from the start of its feed
    force_lbf : total force at the puller
    distance_ft : how far the head has come from the entry pit
    """

    sequence: int
    time_s: float
    force_lbf: float
    distance_ft: float


def in_order(samples: Iterable[Sample]) -> list[Sample]:
    """Return the samples by sequence, each sequence once: the first that came stands."""
    first: dict[int, Sample] = {}
    for sample in samples:
        first.setdefault(sample.sequence, sample)
    return [first[sequence] for sequence in sorted(first)]


def clock_zero_s(known_s: float | None, received_s: float, samples: Iterable[Sample]) -> float:
    """Return when the device's clock stood at zero, by the receiver's clock, s.

    A post takes its time on the way, or waits for the network; the promptest post of a feed is
    nearest to the truth. By it a sample that comes late is known to be old, whatever the device's
    clock says of the day.

    known_s : by the posts before, None for the first
    """
    newest = max(sample.time_s for sample in samples)
    return min(received_s - newest, math.inf if known_s is None else known_s)


def highest(
    known: tuple[float, float] | None, samples: Iterable[Sample]
) -> tuple[float, float] | None:
    """Return the highest force so far and where the head was, lbf and ft."""
    seen = [(sample.force_lbf, sample.distance_ft) for sample in samples]
    return max([*([known] if known else []), *seen], key=lambda pair: pair[0], default=None)


def trace_with(trace: Mapping[str, float], samples: Iterable[Sample]) -> dict[str, float]:
    """Return the highest force of each half foot of the run, the samples added.

    A cell is named by its number, as JSON keeps it. The order of the samples does not matter.
    """
    found = dict(trace)
    for sample in samples:
        cell = str(math.floor(sample.distance_ft / CELL_FT))
        found[cell] = max(round(sample.force_lbf, 1), found.get(cell, -math.inf))
    return found


def is_covered(
    feed_ft: float, feed_peak_lbf: float, log_ft: float, log_peak_lbf: float, tolerance_ft: float
) -> bool:
    """Tell whether a log can be of the pull that a feed is of: as long, and its peak as high.

    A feed holds fewer samples than its logger, so its peak is at most that of the logger's file;
    two in a hundred are left for rounding and units.
    """
    return abs(feed_ft - log_ft) <= tolerance_ft and log_peak_lbf >= 0.98 * feed_peak_lbf


def reached_ft(trace: Mapping[str, float]) -> float:
    """Return how far the head came by a trace, to the half foot; 0 without one."""
    return max((int(cell) + 1) * CELL_FT for cell in trace) if trace else 0.0
