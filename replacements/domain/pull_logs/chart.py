"""A chart of a pull as a picture: force along the line or over time, limits, events, the estimate.

A million samples come down to the lowest and highest in each column of the picture, so no peak is
lost. Lines are labeled where they run; dashes tell them apart without color.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from services_inventory.domain.drawing import Axes, apart, path, picture, ring, text

from .events import Event, EventKind
from .log import PullLog
from .verdict import PullAssessment

if TYPE_CHECKING:
    import numpy as np

WIDTH, HEIGHT = 760, 340
LEFT, RIGHT, TOP, BOTTOM = 70, 610, 28, 292
LIMIT, ESTIMATE, FORCE = "#a00", "#1f5f99", "#111"
_MARKED = {
    EventKind.SPIKE: "spike",
    EventKind.STALL: "stall",
    EventKind.SLIP: "slip",
    EventKind.CABLE_BREAK: "sudden loss of force",
    EventKind.PIPE_LOST: "pipe left behind?",
    EventKind.PLATEAU_RISE: "force stays up",
    EventKind.PAUSE_LONG: "long rest",
}


def log_chart_svg(
    log: PullLog,
    assessment: PullAssessment,
    limits: Mapping[str, float],
    *,
    by: str = "distance",
    estimate: Sequence[tuple[float, float, float, float]] = (),
    title: str = "Force measured in the pull",
) -> str:
    """Return the chart of a pull.

    Parameters
    ----------
    limits : label to force, lbf, drawn as level lines; limits of the total force only, as the
        log does not measure the drag on the new pipe
    by : distance or time
    estimate : (distance in ft, low, expected, high in lbf) along the line; with by="distance"
    title : for the reader and for those who hear the page
    """
    if by not in ("distance", "time"):
        raise ValueError(f"A pull is drawn by distance or by time, not by {by!r}.")
    along = log.distance_ft if by == "distance" else log.time_s
    estimate = estimate if by == "distance" else ()
    ends = [float(along[0]), float(along[-1]), *(row[0] for row in estimate)]
    tops = [float(log.force_lbf.max()), *limits.values(), *(row[3] for row in estimate)]
    longest = max(max(ends), min(ends) + 1e-6)
    axes = Axes(LEFT, RIGHT, TOP, BOTTOM, longest, 1.08 * max(tops) or 1.0, min(ends))
    rests = [e for e in assessment.events if e.kind == EventKind.PAUSE] if by == "distance" else []
    pulling = pulled(log, rests)
    parts = [
        axes.grid("lbf", "Distance, ft" if by == "distance" else "Time, s"),
        *_levels(axes, limits, estimate),
        _trace(axes, along[pulling], log.force_lbf[pulling]),
        *(path(f"M{axes.x(rest.at_ft):.1f} {BOTTOM}v-8", FORCE) for rest in rests),
        text(LEFT, BOTTOM + 37, "Ticks at the foot: a stroke ends") if rests else "",
        *_event_marks(axes, log, assessment, by),
    ]
    return picture(WIDTH, HEIGHT, parts, title, _description(log, assessment, limits))


def pulled(log: PullLog, rests: Sequence[Event]) -> "np.ndarray":
    """Tell the samples of the pull from those of the rests between strokes, without force."""
    import numpy as np

    pulling = np.ones(log.time_s.shape, dtype=bool)  # a kept trace has fewer than the log
    for rest in rests:
        pulling &= (log.time_s < rest.at_s) | (log.time_s > rest.at_s + rest.seconds)
    return pulling


def _trace(axes: Axes, along: "np.ndarray", force: "np.ndarray") -> str:
    """The measured force: in each column of the picture its lowest and highest, in order."""
    import numpy as np

    columns = np.floor(axes.x(along)).astype(int)
    starts = np.flatnonzero(np.diff(columns, prepend=columns[0] - 1))
    lows = np.minimum.reduceat(force, starts)
    highs = np.maximum.reduceat(force, starts)
    points = []
    for x, first, low, high in zip(
        columns[starts].tolist(), force[starts].tolist(), lows.tolist(), highs.tolist(), strict=True
    ):
        near, far = (low, high) if first - low <= high - first else (high, low)
        points.append(f"{x} {axes.y(near):.1f}")
        if low != high:
            points.append(f"{x} {axes.y(far):.1f}")
    return path(f"M{'L'.join(points)}", FORCE, stroke_width=1.4)


def _levels(axes: Axes, limits: Mapping[str, float], estimate: Sequence) -> list[str]:
    """Draw the limits and the estimate, each named at the right of the box."""
    named = [(axes.y(force) + 4, f"{label} {force:,.0f}", LIMIT) for label, force in limits.items()]
    drawn = []
    if estimate:
        low, middle, high = ([(row[0], row[at]) for row in estimate] for at in (1, 2, 3))
        drawn.append(axes.band(low, high, "#cfe0f2"))
        drawn.append(axes.line(middle, ESTIMATE, stroke_dasharray="2 3"))
        last = middle[-1][1]
        named.append((axes.y(last) + 4, f"estimate {last:,.0f}", ESTIMATE))
    for force in limits.values():
        drawn.append(axes.level(force, LIMIT, stroke_width=1.4, stroke_dasharray="8 4"))
    placed = apart(named, 13, TOP)
    return drawn + [text(RIGHT + 6, y, words, fill=color) for y, words, color in placed]


def _event_marks(axes: Axes, log: PullLog, assessment: PullAssessment, by: str) -> list[str]:
    import numpy as np

    drawn: list[str] = []
    labeled: list[tuple[float, float]] = []
    for event in assessment.events:
        if event.kind not in _MARKED:
            continue
        x = axes.x(event.at_ft if by == "distance" else event.at_s)
        force = float(np.interp(event.at_s, log.time_s, log.force_lbf))
        y = axes.y(max(force, event.value_lbf if event.kind == EventKind.SPIKE else 0.0))
        text_y = max(TOP + 12, y - 8)
        while any(abs(x - px) < 200 and abs(text_y - py) < 13 for px, py in labeled):
            text_y += 13
        labeled.append((x, text_y))
        anchor, shift = ("end", -7) if x > 0.6 * WIDTH else ("start", 7)
        words = f"{_MARKED[event.kind]}, {event.at_ft:.1f} ft"
        drawn += [ring(x, y, 4, LIMIT, "none"), text(x + shift, text_y, words, anchor)]
    return drawn


def _description(log: PullLog, assessment: PullAssessment, limits: Mapping[str, float]) -> str:
    marked = [
        f"{_MARKED[event.kind]} at {event.at_ft:.1f} ft"
        for event in assessment.events
        if event.kind in _MARKED
    ]
    lines = ", ".join(f"{label} {value:,.0f} lbf" for label, value in limits.items())
    strokes = sum(event.kind == EventKind.PAUSE for event in assessment.events)
    told = f" {strokes:,} rest{'' if strokes == 1 else 's'} between strokes." if strokes else ""
    return (
        f"{len(log):,} samples over {log.distance_ft[-1] - log.distance_ft[0]:.1f} ft, peak "
        f"{log.peak_lbf:,.0f} lbf. Limits: {lines or 'none given'}. "
        f"Events: {'; '.join(marked) or 'none to mark'}. Verdict: {assessment.verdict.label}.{told}"
    )
