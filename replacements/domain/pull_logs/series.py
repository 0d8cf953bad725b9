"""The cleaned log as the events are looked for in it: short medians, motion, baseline."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .log import PullLog
from .rules import EventRules

if TYPE_CHECKING:
    import numpy as np

GRID_FT = 0.1
BASELINE_SPAN_FT = 3.0
MOTION_WINDOW_S = 3.0
_FAST_S = 0.3


@dataclass(frozen=True)
class Series:
    """Medians over short steps of time, with what the baseline is at each.

    time_s, force_lbf, distance_ft : arrays, one value per step
    moving : array of bool, whether the head moves
    baseline_lbf : array, running median of the moving force over 3 ft of the line
    grid_ft, grid_lbf : the baseline along the line, every 0.1 ft
    start, end : first and last step in motion
    """

    time_s: "np.ndarray"
    force_lbf: "np.ndarray"
    distance_ft: "np.ndarray"
    moving: "np.ndarray"
    baseline_lbf: "np.ndarray"
    grid_ft: "np.ndarray"
    grid_lbf: "np.ndarray"
    start: int
    end: int

    def baseline_at(self, x_ft: float) -> float:
        """Return the baseline at a place of the line, lbf."""
        import numpy as np

        return float(np.interp(x_ft, self.grid_ft, self.grid_lbf))


def medians(log: PullLog, width_s: float) -> tuple["np.ndarray", "np.ndarray", "np.ndarray"]:
    """Return time, median force and last distance of each step; samples as they are if sparse."""
    import numpy as np

    if log.interval_s > width_s / 2:
        return log.time_s, log.force_lbf, log.distance_ft
    step = np.floor(log.time_s / width_s).astype("int64")
    order = np.lexsort((log.force_lbf, step))
    starts = np.flatnonzero(np.diff(step, prepend=step[0] - 1))
    counts = np.diff(np.append(starts, len(step)))
    force = log.force_lbf[order]
    middle = (force[starts + (counts - 1) // 2] + force[starts + counts // 2]) / 2
    return log.time_s[starts], middle, log.distance_ft[starts + counts - 1]


def series_of(log: PullLog, rules: EventRules) -> Series | None:
    """Return the series of a log, None when nothing moves in it."""
    import numpy as np

    time, force, distance = medians(log, _FAST_S)
    half = MOTION_WINDOW_S / 2
    ahead = np.interp(time + half, time, distance)
    behind = np.interp(time - half, time, distance)
    moving = ahead - behind > rules["stall_speed_ft_per_min"] / 60 * MOTION_WINDOW_S
    if not moving.any():
        return None
    loaded = moving & (force >= rules["pause_force_share"] * np.median(force[moving]))
    grid_ft, grid_lbf = _baseline(distance[loaded], force[loaded])
    baseline = np.interp(distance, grid_ft, grid_lbf)
    start = int(moving.argmax())
    end = int(len(moving) - 1 - moving[::-1].argmax())
    return Series(time, force, distance, moving, baseline, grid_ft, grid_lbf, start, end)


def _baseline(x: "np.ndarray", force: "np.ndarray") -> tuple["np.ndarray", "np.ndarray"]:
    import numpy as np

    cell = np.floor((x - x[0]) / GRID_FT + 1e-6).astype("int64")
    order = np.lexsort((force, cell))
    starts = np.flatnonzero(np.diff(cell, prepend=-1))
    counts = np.diff(np.append(starts, len(cell)))
    ranked = force[order]
    middle = (ranked[starts + (counts - 1) // 2] + ranked[starts + counts // 2]) / 2
    grid = np.arange(cell[-1] + 1)
    filled = np.interp(grid, cell[starts], middle)
    half = round(BASELINE_SPAN_FT / GRID_FT / 2)
    if len(filled) <= 2 * half:
        return x[0] + grid * GRID_FT, np.full(len(grid), np.median(filled))
    windows = np.lib.stride_tricks.sliding_window_view(filled, 2 * half + 1)
    inner = np.median(windows, axis=1)
    # A window at either end is cut short rather than filled up with copies of one value.
    first = [np.median(filled[: i + half + 1]) for i in range(half)]
    last = [np.median(filled[-(i + half + 1) :]) for i in reversed(range(half))]
    return x[0] + grid * GRID_FT, np.concatenate((first, inner, last))


def runs(mask: "np.ndarray", join: int = 0) -> list[tuple[int, int]]:
    """Return first and last index of each run of True, joining runs up to `join` steps apart."""
    import numpy as np

    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype("int8"), [0]))))
    found: list[tuple[int, int]] = []
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if found and first - found[-1][1] - 1 <= join:
            found[-1] = (found[-1][0], past - 1)
        else:
            found.append((first, past - 1))
    return found
