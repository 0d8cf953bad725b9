"""Both forces along the run, drawn as plain SVG for a page, a phone and a printed sheet.

Every line is named where it runs, told apart by dashes as well as color, and drawn with
attributes only, so that a strict content policy lets it through.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from replacements.domain.pull_force.estimate import ForceEstimate
from replacements.domain.pull_force.spread import RANGE_COVERS, Range
from replacements.domain.pull_force.verdict import part_told
from replacements.domain.units import high_lb, limit_lb

WIDTH, HEIGHT = 480, 430
LEFT, RIGHT, TOP, BOTTOM = 62, 470, 34, 366
TEXT = 14
LINE_GAP = 17
TRACE_POINTS = 400
TOTAL, DRAG, LIMIT, TRACE, INK = "#1f3a5f", "#8a4b08", "#a11d33", "#000000", "#333333"


@dataclass(frozen=True)
class _Frame:
    """Scales feet and pounds onto the drawing."""

    length_ft: float
    top_lbf: float

    def x(self, station_ft: float) -> float:
        return LEFT + (RIGHT - LEFT) * station_ft / self.length_ft

    def y(self, force_lbf: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(force_lbf, self.top_lbf) / self.top_lbf

    def points(self, pairs: Iterable[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(at):.1f},{self.y(force):.1f}" for at, force in pairs)


def force_chart_svg(made: ForceEstimate, log=None, name: str = "force-chart") -> str:
    """Return a chart of the total and the drag along the run, with their bands and limits.

    Parameters
    ----------
    made : ForceEstimate
        what to draw
    log : pairs or PullLog
        the measured total, as (distance ft, force lb) pairs or as an object with `distance_ft`
        and `force_lbf` sequences; None for none
    name : str
        prefix of the ids, to keep two charts on one page apart

    Returns
    -------
    str, one svg element with a title and a description

    """
    trace = _trace(log)
    frame = _Frame(made.case.length_ft, _top(made, trace))
    drawn = [
        _axes(frame),
        _band(frame, made, "total_lbf", made.total, TOTAL),
        _band(frame, made, "drag_lbf", made.drag, DRAG),
        _line(
            frame, [(p.station_ft, p.total_lbf) for p in made.profile], TOTAL, 'stroke-width="3"'
        ),
        _line(
            frame,
            [(p.station_ft, p.drag_lbf) for p in made.profile],
            DRAG,
            'stroke-width="3" stroke-dasharray="9 4"',
        ),
        _marks(frame, made),
        _line(frame, trace, TRACE, 'stroke-width="1.5"') if trace else "",
        _limits(frame, made),
        _labels(frame, made, trace),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="100%" '
        f'role="img" aria-labelledby="{escape(name)}-title {escape(name)}-desc" '
        f'font-family="system-ui, sans-serif" font-size="{TEXT}">'
        f'<title id="{escape(name)}-title">{escape(_title(made))}</title>'
        f'<desc id="{escape(name)}-desc">{escape(_description(made, trace))}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>{"".join(drawn)}</svg>'
    )


def _trace(log) -> list[tuple[float, float]]:
    """Return at most TRACE_POINTS of the log, the greatest force of each stretch kept."""
    if log is None:
        return []
    pairs = log if isinstance(log, Sequence) else zip(log.distance_ft, log.force_lbf, strict=True)
    measured = [(float(at), float(force)) for at, force in pairs if at == at and force == force]
    step = -(-len(measured) // TRACE_POINTS) or 1
    return [
        max(measured[start : start + step], key=lambda pair: pair[1])
        for start in range(0, len(measured), step)
    ]


def _top(made: ForceEstimate, trace) -> float:
    """Return the top of the scale: all forces, and a limit where it is not far above them."""
    forces = [made.high_lbf, made.drag.high_lbf, *(force for _, force in trace)]
    highest = max(forces)
    limits = (made.limit_lbf, made.drag_limit_lbf)
    near = [limit for limit in limits if limit and limit <= 1.6 * highest]
    return 1.08 * max(highest, *near) if near else 1.08 * highest


def _ticks(top: float, most: int = 6) -> list[float]:
    """Return round values from 0 to the top, at most so many steps apart."""
    power = 10.0 ** math.floor(math.log10(top / most))
    step = next(power * unit for unit in (1, 2, 5, 10) if top / (power * unit) <= most)
    return [step * tick for tick in range(math.floor(top / step) + 1)]


def _axes(frame: _Frame) -> str:
    drawn = []
    for tick in _ticks(frame.top_lbf):
        y = frame.y(tick)
        drawn.append(
            f'<line x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#dddddd"/>'
            + _text(LEFT - 6, y + 5, f"{tick:,.0f}", "end")
        )
    for tick in _ticks(frame.length_ft):
        x = frame.x(tick)
        drawn.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{BOTTOM}" y2="{BOTTOM + 5}" stroke="{INK}"/>'
            + _text(x, BOTTOM + 20, f"{tick:g}", "middle")
        )
    drawn.append(_text(4, 18, "lb", "start"))
    drawn.append(_text((LEFT + RIGHT) / 2, HEIGHT - 6, "ft pulled from the entry pit", "middle"))
    drawn.append(
        f'<path d="M{LEFT} {TOP}V{BOTTOM}H{RIGHT}" fill="none" stroke="{INK}"/>',
    )
    return "".join(drawn)


def _text(x: float, y: float, text: str, anchor: str, fill: str = INK) -> str:
    """Text with a white edge, so that it reads across lines."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{fill}" '
        'stroke="#ffffff" stroke-width="3" paint-order="stroke">'
        f"{escape(text)}</text>"
    )


def _band(frame: _Frame, made: ForceEstimate, which: str, spread: Range, color: str) -> str:
    low, high = (
        [(p.station_ft, getattr(p, which) * end / spread.expected_lbf) for p in made.profile]
        for end in (spread.low_lbf, spread.high_lbf)
    )
    outline = frame.points([*low, *reversed(high)])
    return f'<polygon points="{outline}" fill="{color}" fill-opacity="0.14"/>'


def _line(frame: _Frame, pairs, color: str, rest: str) -> str:
    return (
        f'<polyline points="{frame.points(pairs)}" fill="none" stroke="{color}" '
        f'stroke-linejoin="round" {rest}/>'
    )


def _marks(frame: _Frame, made: ForceEstimate) -> str:
    drawn = []
    for bend in made.case.bends:
        x = frame.x(bend.station_ft)
        drawn.append(
            f'<path d="M{x:.1f} {TOP}V{BOTTOM}" stroke="{INK}" stroke-dasharray="1 6"/>'
            + _text(x, BOTTOM + 38, f"bend {bend.degrees:g}\N{DEGREE SIGN}", "middle")
        )
    for spike in made.joints:
        drawn.append(_spike(frame, made, spike))
    return "".join(drawn)


def _spike(frame: _Frame, made: ForceEstimate, spike) -> str:
    x, y = frame.x(spike.joint.station_ft), frame.y(spike.total_lbf)
    low = frame.y(spike.total_lbf * made.low_lbf / made.expected_lbf)
    high = frame.y(spike.total_lbf * made.high_lbf / made.expected_lbf)
    anchor = "start" if x < (LEFT + RIGHT) / 2 else "end"
    return (
        f'<path d="M{x:.1f} {low:.1f}V{high:.1f}" stroke="{TOTAL}" stroke-width="2"/>'
        f'<path d="M{x:.1f} {y - 7:.1f}l7 7l-7 7l-7 -7z" fill="{TOTAL}"/>'
        + _text(
            x + (12 if anchor == "start" else -12),
            y + 5,
            f"wiped joint {spike.total_lbf:,.0f}",
            anchor,
            TOTAL,
        )
    )


def _limit_lines(made: ForceEstimate) -> list[tuple[float, str, str]]:
    """Return (limit, words, dashes) for the total's lowest limit and the new pipe's."""
    lines = []
    if made.limit_lbf is not None:
        part = part_told(made.limited_by)
        lines.append((made.limit_lbf, f"limit of total: {part} {_down(made.limit_lbf)}", "2 3"))
    if made.drag_limit_lbf is not None:
        part, limit = part_told(made.drag_limited_by), made.drag_limit_lbf
        lines.append((limit, f"limit of drag: {part} {_down(limit)}", "12 5 2 5"))
    return lines


def _down(limit_lbf: float) -> str:
    return limit_lb(limit_lbf).removesuffix(" lb")


def _limits(frame: _Frame, made: ForceEstimate) -> str:
    return "".join(
        f'<line x1="{LEFT}" x2="{RIGHT}" y1="{frame.y(limit):.1f}" y2="{frame.y(limit):.1f}" '
        f'stroke="{LIMIT}" stroke-width="2" stroke-dasharray="{dashes}"/>'
        for limit, _, dashes in _limit_lines(made)
        if limit <= frame.top_lbf
    )


def _labels(frame: _Frame, made: ForceEstimate, trace) -> str:
    """Name each line at its right end; labels that would touch are moved apart."""
    last = made.profile[-1]
    wanted = [
        (frame.y(last.total_lbf), f"total {last.total_lbf:,.0f}", TOTAL),
        (frame.y(last.drag_lbf), f"drag on new pipe {last.drag_lbf:,.0f}", DRAG),
    ]
    if trace:
        wanted.append((frame.y(trace[-1][1]), "measured total", TRACE))
    for limit, words, _ in _limit_lines(made):
        above = limit > frame.top_lbf
        y = TOP - LINE_GAP if above else frame.y(limit)
        wanted.append((y, words + (" (above the chart)" if above else ""), LIMIT))
    drawn, free = [], 0.0
    for y, words, color in sorted(wanted):
        free = max(y - 6, free + LINE_GAP)
        drawn.append(_text(RIGHT, max(free, TEXT), words, "end", color))
        free = max(free, TEXT)
    return "".join(drawn)


def _title(made: ForceEstimate) -> str:
    return f"Planning estimate of the pull: {made.verdict.label}"


def _description(made: ForceEstimate, trace) -> str:
    case, total, drag = made.case, made.total, made.drag
    sentences = [
        f"Over {case.length_ft:g} ft the total force at the cable peaks at "
        f"{total.expected_lbf:,.0f} lb, from {limit_lb(total.low_lbf)} to "
        f"{high_lb(total.high_lbf)}.",
        f"The drag on the new pipe ends at {drag.expected_lbf:,.0f} lb, from "
        f"{limit_lb(drag.low_lbf)} to {high_lb(drag.high_lbf)}.",
        f"Each range is {RANGE_COVERS}.",
        *(f"The {words} lb." for _, words, _ in _limit_lines(made)),
        *(f"A bend of {b.degrees:g} degrees at {b.station_ft:g} ft." for b in case.bends),
        *(
            f"A wiped joint at {s.joint.station_ft:g} ft may take {s.total_lbf:,.0f} lb."
            for s in made.joints
        ),
    ]
    if trace:
        measured = max(force for _, force in trace)
        sentences.append(f"The measured total peaked at {measured:,.0f} lb.")
    return " ".join(sentences)
