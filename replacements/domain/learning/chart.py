"""How the belief about one soil narrows, and widens, with each pull, as a picture."""

import math
from collections.abc import Sequence

from replacements.domain.learning.calibration import Calibration, Observation
from services_inventory.domain.drawing import Axes, path, picture, ring, shape, text, ticks

WIDTH, HEIGHT = 480, 348
LEFT, RIGHT, TOP, BOTTOM = 52, 466, 34, 270
LINE, BAND, NEXT = "#1f3a5f", "#b9c9da", "#8a4b08"
MARKS = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0)
LOWEST, HIGHEST = 0.2, 5.0


def narrowing_chart_svg(steps: Sequence[Calibration], pulls: Sequence[Observation]) -> str:
    """Return a chart of the bias with its interval, the next pull's range, and each pull's ratio.

    Parameters
    ----------
    steps : beliefs in rising order of their pulls, as `narrowing` gives them
    pulls : all pulls of the soil in the same order
    """
    count = max(len(pulls), 1)
    axes = Axes(LEFT, RIGHT, TOP, BOTTOM, count, _height(HIGHEST))
    low, high, next_low, next_high, middle = (
        [(step.n, _height(of(step))) for step in steps]
        for of in (
            lambda step: step.interval[0],
            lambda step: step.interval[1],
            lambda step: step.next_pull[0],
            lambda step: step.next_pull[1],
            lambda step: step.bias_factor,
        )
    )
    drawn = [
        axes.grid(
            "measured over estimated",
            "pulls",
            levels={_height(mark): f"{mark:g}" for mark in MARKS},
            places={at: f"{at:g}" for at in ticks(0, count, 8) if at == round(at)},
        ),
        axes.level(_height(1), LINE),
        axes.band(low, high, BAND, stroke=BAND, stroke_width=1 if steps[1:] else 9),
        axes.line(next_low, NEXT, stroke_dasharray="3 4"),
        axes.line(next_high, NEXT, stroke_dasharray="3 4"),
        axes.line(middle, LINE, stroke_width=3),
        *(
            _mark(axes.x(n), axes.y(_height(pull.measured_lbf / pull.estimated_lbf)), pull.stopped)
            for n, pull in enumerate(pulls, start=1)
        ),
        *_key(),
    ]
    title = "Measured over estimated, pull by pull"
    return picture(WIDTH, HEIGHT, drawn, title, _told(steps), size=13)


def _height(factor: float) -> float:
    """Return the height of a factor: halves and doubles stand equally far from 1."""
    return math.log(min(max(factor, LOWEST), HIGHEST) / LOWEST)


def _told(steps: Sequence[Calibration]) -> str:
    first, last = steps[0], steps[-1]
    return (
        f"Before any pull the factor is taken as {first.bias_factor:.2f}, eight in ten between "
        f"{first.interval[0]:.2f} and {first.interval[1]:.2f}. After {last.n} it is "
        f"{last.bias_factor:.2f}, between {last.interval[0]:.2f} and {last.interval[1]:.2f}; the "
        f"next pull is expected between {last.next_pull[0]:.2f} and {last.next_pull[1]:.2f}."
    )


def _mark(x: float, y: float, stopped: bool) -> str:
    """Draw a ring for a pull that is known, an arrow up for one that needed at least so much."""
    if not stopped:
        return ring(x, y, 4)
    arrow = f"M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y:.1f}v-12m-4 4l4 -4l4 4"
    return path(arrow, stroke_width=2)


def _key() -> list[str]:
    y, below = HEIGHT - 26, HEIGHT - 8
    return [
        path(f"M{LEFT} {y - 4}h22", LINE, stroke_width=3),
        text(LEFT + 27, y, "factor"),
        shape("rect", x=LEFT + 80, y=y - 11, width=22, height=12, fill=BAND),
        text(LEFT + 107, y, "factor, eight in ten"),
        path(f"M{LEFT + 240} {y - 4}h22", NEXT, stroke_dasharray="3 4"),
        text(LEFT + 267, y, "next pull, eight in ten"),
        _mark(LEFT + 11, below - 4, False),
        text(LEFT + 27, below, "an accepted pull"),
        _mark(LEFT + 151, below, True),
        text(LEFT + 162, below, "stopped, held or rejected: at least"),
    ]
