"""A chart of a pull as plain SVG: force along the line or over time, limits, events, the estimate.

A million samples come down to the lowest and highest in each column of the picture, so no peak is
lost. Lines are labeled where they run; dashes tell them apart without color.
"""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

from .events import EventKind
from .log import PullLog
from .verdict import PullAssessment

if TYPE_CHECKING:
    import numpy as np

WIDTH, HEIGHT = 760, 340
_LEFT, _RIGHT, _TOP, _BOTTOM = 70, 150, 20, 48
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
    frame = _Frame(along, log.force_lbf, limits, estimate if by == "distance" else ())
    parts = [
        *frame.axes("Distance, ft" if by == "distance" else "Time, s"),
        *_estimate_lines(frame),
        *_limit_lines(frame, limits),
        frame.trace(along, log.force_lbf),
        *_event_marks(frame, log, assessment, by),
    ]
    words = _description(log, assessment, limits)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-label="{escape(f"{title}. {words}")}" font-family="sans-serif" font-size="12">'
        f"<title>{escape(title)}</title><desc>{escape(words)}</desc>{''.join(parts)}</svg>"
    )


class _Frame:
    """The picture's axes: what stands where."""

    def __init__(
        self,
        along: "np.ndarray",
        force: "np.ndarray",
        limits: Mapping[str, float],
        estimate: Sequence[tuple[float, float, float, float]],
    ):
        self.estimate = estimate
        ends = [float(along[0]), float(along[-1]), *(row[0] for row in estimate)]
        tops = [float(force.max()), *limits.values(), *(row[3] for row in estimate)]
        self.x0, self.x1 = min(ends), max(max(ends), min(ends) + 1e-6)
        self.top = 1.08 * max(tops) or 1.0

    def x(self, value):
        return _LEFT + (value - self.x0) / (self.x1 - self.x0) * (WIDTH - _LEFT - _RIGHT)

    def y(self, value):
        return HEIGHT - _BOTTOM - value / self.top * (HEIGHT - _TOP - _BOTTOM)

    def axes(self, name: str) -> Iterable[str]:
        right, floor = WIDTH - _RIGHT, HEIGHT - _BOTTOM
        for value in _ticks(0.0, self.top):
            y = self.y(value)
            yield f'<path d="M{_LEFT} {y:.1f}H{right}" stroke="#ddd" fill="none"/>'
            yield f'<text x="{_LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{value:,.0f}</text>'
        for value in _ticks(self.x0, self.x1):
            x = self.x(value)
            yield f'<path d="M{x:.1f} {floor}v5" stroke="#333" fill="none"/>'
            yield f'<text x="{x:.1f}" y="{floor + 18}" text-anchor="middle">{value:,.10g}</text>'
        yield f'<path d="M{_LEFT} {_TOP}V{floor}H{right}" stroke="#333" fill="none"/>'
        middle = (_LEFT + right) / 2
        yield f'<text x="{middle:.0f}" y="{HEIGHT - 8}" text-anchor="middle">{name}</text>'
        yield f'<text x="{_LEFT}" y="{_TOP - 7}" text-anchor="end">lbf</text>'

    def trace(self, along: "np.ndarray", force: "np.ndarray") -> str:
        """The measured force: in each column of the picture its lowest and highest, in order."""
        import numpy as np

        columns = np.floor(self.x(along)).astype(int)
        starts = np.flatnonzero(np.diff(columns, prepend=columns[0] - 1))
        lows = np.minimum.reduceat(force, starts)
        highs = np.maximum.reduceat(force, starts)
        firsts = force[starts]
        points = []
        for x, first, low, high in zip(
            columns[starts].tolist(), firsts.tolist(), lows.tolist(), highs.tolist(), strict=True
        ):
            near, far = (low, high) if first - low <= high - first else (high, low)
            points.append(f"{x} {self.y(near):.1f}")
            if low != high:
                points.append(f"{x} {self.y(far):.1f}")
        return f'<path d="M{"L".join(points)}" stroke="#111" stroke-width="1.4" fill="none"/>'


def _ticks(low: float, high: float) -> list[float]:
    span = max(high - low, 1e-9)
    power = 10.0 ** int(f"{span / 5:e}".split("e")[1])
    step = next(m * power for m in (1, 2, 5, 10) if span / (m * power) <= 6)
    first = -(-low // step) * step
    return [first + i * step for i in range(int((high - first) / step + 1e-9) + 1)]


def _limit_lines(frame: _Frame, limits: Mapping[str, float]) -> Iterable[str]:
    right = WIDTH - _RIGHT
    used = [frame.y(frame.estimate[-1][2]) + 4] if frame.estimate else []
    for label, value in sorted(limits.items(), key=lambda item: item[1]):
        y = frame.y(value)
        text_y = y + 4
        while any(abs(text_y - taken) < 13 for taken in used):
            text_y -= 13
        used.append(text_y)
        yield (
            f'<path d="M{_LEFT} {y:.1f}H{right}" stroke="#a00" stroke-width="1.4" '
            f'stroke-dasharray="8 4" fill="none"/>'
            f'<text x="{right + 6}" y="{text_y:.1f}" fill="#a00">'
            f"{escape(label)} {value:,.0f}</text>"
        )


def _estimate_lines(frame: _Frame) -> Iterable[str]:
    if not frame.estimate:
        return
    there = " ".join(f"{frame.x(row[0]):.1f},{frame.y(row[1]):.1f}" for row in frame.estimate)
    back = " ".join(
        f"{frame.x(row[0]):.1f},{frame.y(row[3]):.1f}" for row in reversed(frame.estimate)
    )
    middle = "L".join(f"{frame.x(row[0]):.1f} {frame.y(row[2]):.1f}" for row in frame.estimate)
    last = frame.estimate[-1]
    yield f'<polygon points="{there} {back}" fill="#cfe0f2" stroke="none"/>'
    yield f'<path d="M{middle}" stroke="#1f5f99" stroke-dasharray="2 3" fill="none"/>'
    yield (
        f'<text x="{WIDTH - _RIGHT + 6}" y="{frame.y(last[2]) + 4:.1f}" fill="#1f5f99">'
        f"estimate {last[2]:,.0f}</text>"
    )


def _event_marks(frame: _Frame, log: PullLog, assessment: PullAssessment, by: str) -> Iterable[str]:
    import numpy as np

    labeled: list[tuple[float, float]] = []
    for event in assessment.events:
        if event.kind not in _MARKED:
            continue
        x = frame.x(event.at_ft if by == "distance" else event.at_s)
        force = float(np.interp(event.at_s, log.time_s, log.force_lbf))
        y = frame.y(max(force, event.value_lbf if event.kind == EventKind.SPIKE else 0.0))
        text_y = max(_TOP + 12, y - 8)
        while any(abs(x - px) < 200 and abs(text_y - py) < 13 for px, py in labeled):
            text_y += 13
        labeled.append((x, text_y))
        anchor, shift = ("end", -7) if x > 0.6 * WIDTH else ("start", 7)
        yield (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="none" stroke="#a00"/>'
            f'<text x="{x + shift:.1f}" y="{text_y:.1f}" text-anchor="{anchor}">'
            f"{_MARKED[event.kind]}, {event.at_ft:.1f} ft</text>"
        )


def _description(log: PullLog, assessment: PullAssessment, limits: Mapping[str, float]) -> str:
    marked = [
        f"{_MARKED[event.kind]} at {event.at_ft:.1f} ft"
        for event in assessment.events
        if event.kind in _MARKED
    ]
    lines = ", ".join(f"{label} {value:,.0f} lbf" for label, value in limits.items())
    return (
        f"{len(log):,} samples over {log.distance_ft[-1] - log.distance_ft[0]:.1f} ft, peak "
        f"{log.peak_lbf:,.0f} lbf. Limits: {lines or 'none given'}. "
        f"Events: {'; '.join(marked) or 'none to mark'}. Verdict: {assessment.verdict.label}."
    )
