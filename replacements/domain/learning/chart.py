"""How the belief about one soil narrows, and widens, with each pull, drawn as plain SVG.

Drawn with attributes only, so that a strict content policy lets it through.
"""

import math
from collections.abc import Sequence
from html import escape

from replacements.domain.learning.calibration import Calibration, Observation

WIDTH, HEIGHT = 480, 348
LEFT, RIGHT, TOP, BOTTOM = 52, 466, 34, 270
INK, BAND, NEXT = "#1f3a5f", "#b9c9da", "#8a4b08"
MARKS = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0)
STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 5000, 20_000, 100_000)
LOWEST, HIGHEST = 0.2, 5.0


def narrowing_chart_svg(
    steps: Sequence[Calibration], pulls: Sequence[Observation], name: str = "narrowing"
) -> str:
    """Return a chart of the bias with its interval, the next pull's range, and each pull's ratio.

    Parameters
    ----------
    steps : beliefs in rising order of their pulls, as `narrowing` gives them
    pulls : all pulls of the soil in the same order
    name : prefix of the ids, to keep two charts on one page apart
    """
    count = max(len(pulls), 1)
    at = [_x(step.n, count) for step in steps]
    drawn = [
        _axes(count),
        _band(at, steps),
        _line(at, [s.next_pull[0] for s in steps], NEXT, 'stroke-dasharray="3 4"'),
        _line(at, [s.next_pull[1] for s in steps], NEXT, 'stroke-dasharray="3 4"'),
        _line(at, [s.bias_factor for s in steps], INK, 'stroke-width="3"'),
        *(_mark(_x(n, count), pull) for n, pull in enumerate(pulls, start=1)),
        _key(),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="100%" '
        f'role="img" aria-labelledby="{escape(name)}-title {escape(name)}-desc" '
        f'font-family="system-ui, sans-serif" font-size="13">'
        f'<title id="{escape(name)}-title">Measured over estimated, pull by pull</title>'
        f'<desc id="{escape(name)}-desc">{escape(_told(steps))}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>{"".join(drawn)}</svg>'
    )


def _x(pull: int, count: int) -> float:
    return LEFT + (RIGHT - LEFT) * pull / count


def _told(steps: Sequence[Calibration]) -> str:
    first, last = steps[0], steps[-1]
    return (
        f"Before any pull the factor is taken as {first.bias_factor:.2f}, eight in ten between "
        f"{first.interval[0]:.2f} and {first.interval[1]:.2f}. After {last.n} it is "
        f"{last.bias_factor:.2f}, between {last.interval[0]:.2f} and {last.interval[1]:.2f}; the "
        f"next pull is expected between {last.next_pull[0]:.2f} and {last.next_pull[1]:.2f}."
    )


def _y(factor: float) -> float:
    held = min(max(factor, LOWEST), HIGHEST)
    share = math.log(held / LOWEST) / math.log(HIGHEST / LOWEST)
    return BOTTOM - (BOTTOM - TOP) * share


def _axes(count: int) -> str:
    drawn = [
        f'<line x1="{LEFT}" x2="{RIGHT}" y1="{_y(mark):.1f}" y2="{_y(mark):.1f}" '
        f'stroke="{INK if mark == 1 else "#dddddd"}"/>'
        f'<text x="{LEFT - 6}" y="{_y(mark) + 4:.1f}" text-anchor="end">{mark:g}</text>'
        for mark in MARKS
    ]
    step = next(step for step in STEPS if count / step <= 8)
    drawn += [
        f'<text x="{LEFT + (RIGHT - LEFT) * n / count:.1f}" y="{BOTTOM + 18}" '
        f'text-anchor="middle">{n}</text>'
        for n in range(0, count + 1, step)
    ]
    drawn.append(
        f'<path d="M{LEFT} {TOP}V{BOTTOM}H{RIGHT}" fill="none" stroke="#333333"/>'
        f'<text x="4" y="18">measured over estimated</text>'
        f'<text x="{(LEFT + RIGHT) / 2}" y="{BOTTOM + 36}" text-anchor="middle">'
        "pulls</text>"
    )
    return "".join(drawn)


def _band(at: Sequence[float], steps: Sequence[Calibration]) -> str:
    low = [f"{x:.1f},{_y(s.interval[0]):.1f}" for x, s in zip(at, steps, strict=True)]
    high = [f"{x:.1f},{_y(s.interval[1]):.1f}" for x, s in zip(at, steps, strict=True)]
    if len(steps) == 1:
        return f'<path d="M{low[0]}L{high[0]}" stroke="{BAND}" stroke-width="9"/>'
    return f'<polygon points="{" ".join(low + high[::-1])}" fill="{BAND}"/>'


def _line(at: Sequence[float], factors: Sequence[float], color: str, more: str) -> str:
    points = " ".join(f"{x:.1f},{_y(f):.1f}" for x, f in zip(at, factors, strict=True))
    return f'<polyline points="{points}" fill="none" stroke="{color}" {more}/>'


def _mark(x: float, pull: Observation) -> str:
    """Draw a ring for a pull that is known, an arrow up for one that needed at least so much."""
    y = _y(pull.measured_lbf / pull.estimated_lbf)
    if pull.stopped:
        return (
            f'<path d="M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y:.1f}v-12m-4 4l4 -4l4 4" fill="none" '
            'stroke="#333333" stroke-width="2"/>'
        )
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#ffffff" stroke="#333333"/>'


def _key() -> str:
    y, below = HEIGHT - 26, HEIGHT - 8
    return (
        f'<line x1="{LEFT}" x2="{LEFT + 22}" y1="{y - 4}" y2="{y - 4}" stroke="{INK}" '
        f'stroke-width="3"/><text x="{LEFT + 27}" y="{y}">factor</text>'
        f'<rect x="{LEFT + 80}" y="{y - 11}" width="22" height="12" fill="{BAND}"/>'
        f'<text x="{LEFT + 107}" y="{y}">factor, eight in ten</text>'
        f'<line x1="{LEFT + 240}" x2="{LEFT + 262}" y1="{y - 4}" y2="{y - 4}" stroke="{NEXT}" '
        f'stroke-dasharray="3 4"/><text x="{LEFT + 267}" y="{y}">next pull, eight in ten</text>'
        f'<circle cx="{LEFT + 11}" cy="{below - 4}" r="4" fill="#ffffff" stroke="#333333"/>'
        f'<text x="{LEFT + 27}" y="{below}">an accepted pull</text>'
        f'<path d="M{LEFT + 146} {below}h10M{LEFT + 151} {below}v-12m-4 4l4 -4l4 4" fill="none" '
        f'stroke="#333333" stroke-width="2"/>'
        f'<text x="{LEFT + 162}" y="{below}">stopped, held or rejected: at least</text>'
    )
