"""Invented pull logs whose truth is known by how they were made, for the demo and for checks.

The same arguments always give the same text, byte for byte.
"""

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

HEADER = "Time (s),Force (lbf),Distance (ft)"
PRESSURE_HEADER = "Time (s),Pressure (psi),Distance (ft)"


@dataclass(frozen=True)
class Bump:
    """A force above the run of the pull, as at a wiped joint.

    at_ft : where the head meets it
    seconds : how long it lasts, at the rate of the pull
    force_lbf : the force while it lasts
    """

    at_ft: float
    seconds: float
    force_lbf: float


def synthetic_log(
    length_ft: float,
    *,
    rate_ft_per_min: float = 6.0,
    force_start_lbf: float = 750.0,
    force_end_lbf: float = 900.0,
    bumps: Sequence[Bump] = (),
    stroke_ft: float | None = 2.5,
    pause_s: float = 8.0,
    pause_force_lbf: float = 50.0,
    noise_lbf: float = 40.0,
    interval_s: float = 1.0,
    rest_force_lbf: float = 20.0,
    rest_s: float = 5.0,
    seed: int = 1,
) -> str:
    """Return the CSV text of a pull at a steady rate, in strokes, its force rising evenly.

    Parameters
    ----------
    length_ft : how far the head goes
    rate_ft_per_min : speed of the head while it moves
    force_start_lbf, force_end_lbf : force at the start and at the end of that length
    bumps : joints or stones along the way; they carry no noise, so their height is exact
    stroke_ft : distance between pauses, None for a winch that never lets go
    pause_s, pause_force_lbf : length of a pause, and the force left in the cable meanwhile
    noise_lbf : half width of the even noise on the moving force
    interval_s : time between samples
    rest_force_lbf, rest_s : force after the end, and how long it is logged
    seed : of the noise
    """
    noise = random.Random(seed)
    lines, time_s = [HEADER], 0.0
    rise = (force_end_lbf - force_start_lbf) / length_ft
    for x, moving in _stations(length_ft, rate_ft_per_min, interval_s, stroke_ft, pause_s):
        force = pause_force_lbf
        if moving:
            quiet = force_start_lbf + rise * x + noise.uniform(-noise_lbf, noise_lbf)
            force = next((b.force_lbf for b in bumps if _meets(b, x, rate_ft_per_min)), quiet)
        lines.append(f"{time_s:.3f},{force:.1f},{x:.3f}")
        time_s += interval_s
    for _ in range(round(rest_s / interval_s)):
        lines.append(f"{time_s:.3f},{rest_force_lbf:.1f},{length_ft:.3f}")
        time_s += interval_s
    return "\n".join(lines) + "\n"


def _meets(bump: Bump, x: float, rate_ft_per_min: float) -> bool:
    return -1e-9 <= x - bump.at_ft < bump.seconds * rate_ft_per_min / 60 - 1e-9


def _stations(
    length_ft: float,
    rate_ft_per_min: float,
    interval_s: float,
    stroke_ft: float | None,
    pause_s: float,
) -> Iterator[tuple[float, bool]]:
    step = rate_ft_per_min / 60 * interval_s
    next_pause = stroke_ft or length_ft + 1
    for count in range(int(length_ft / step + 1e-9) + 1):
        x = count * step
        yield x, True
        if x >= next_pause - 1e-9:
            next_pause += stroke_ft or 0.0
            yield from ((x, False) for _ in range(round(pause_s / interval_s)))
