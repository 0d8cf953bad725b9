"""Pull logs whose truth is known, for the tests of what reads and judges them."""

from collections.abc import Iterable

from fixtures.pull_logs import Bump, synthetic_log

PRESSURE_HEADER = "Time (s),Pressure (psi),Distance (ft)"


def make_clean_log(seed: int = 1) -> str:
    """Return a 35 ft pull with one joint at 12 ft: 744 rising to 871 lbf, 1,900 lbf at the joint.

    Strokes of 2.5 ft with pauses of 8 s at 50 lbf, one sample a second, stopped at 35.2 ft.
    """
    return synthetic_log(
        35.2,
        rate_ft_per_min=6.0,
        force_start_lbf=744.0,
        force_end_lbf=871.0,
        bumps=(Bump(12.0, 4.0, 1900.0),),
        noise_lbf=40.0,
        seed=seed,
    )


def make_trouble_log() -> str:
    """Return a pressure log of a 60 ft line that sticks at 31 ft and ends there.

    240 psi rising to 420 psi at 31 ft, 540 psi for 40 s without motion, 700 psi at 42 s, then
    65 psi half a second later; two samples a second. Meant for a 3-1/4 in. cylinder with a
    1-1/2 in. rod, efficiency 0.92, free-running at 60 psi.
    """
    rate_ft_per_s, stop_ft, interval_s = 0.1, 31.0, 0.5
    moving = int(stop_ft / rate_ft_per_s / interval_s)
    run = [(240 + 180 * i / (moving - 1), i * rate_ft_per_s * interval_s) for i in range(moving)]
    stuck = [(540.0, stop_ft)] * 81 + [(620.0, stop_ft)] * 3 + [(700.0, stop_ft)]
    after = [(65.0, stop_ft)] * 11
    return _pressure_text([*run, *stuck, *after], interval_s)


def _pressure_text(samples: Iterable[tuple[float, float]], interval_s: float) -> str:
    lines = [f"{i * interval_s:.1f},{psi:.1f},{x:.2f}" for i, (psi, x) in enumerate(samples)]
    return "\n".join([PRESSURE_HEADER, *lines]) + "\n"
