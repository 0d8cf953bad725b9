"""Both forces along the run, drawn for a page, a phone and a printed sheet.

Every line is named where it runs and told apart by dashes as well as color.
"""

from collections.abc import Sequence

from replacements.domain.pull_force.estimate import ForceEstimate
from replacements.domain.pull_force.spread import RANGE_COVERS, Range
from replacements.domain.pull_force.verdict import part_told
from replacements.domain.units import high_lb, limit_lb
from services_inventory.domain.certain import certain
from services_inventory.domain.drawing import Axes, apart, path, picture, text

WIDTH, HEIGHT = 480, 430
LEFT, RIGHT, TOP, BOTTOM = 62, 470, 34, 366
TEXT = 14
LINE_GAP = 17
TRACE_POINTS = 400
TOTAL, DRAG, LIMIT, TRACE = "#1f3a5f", "#8a4b08", "#a11d33", "#000000"


def force_chart_svg(made: ForceEstimate, log=None) -> str:
    """Return a chart of the total and the drag along the run, with their bands and limits.

    Parameters
    ----------
    made : ForceEstimate
        what to draw
    log : pairs or PullLog
        the measured total, as (distance ft, force lb) pairs or as an object with `distance_ft`
        and `force_lbf` sequences; None for none

    """
    trace = _trace(log)
    axes = Axes(LEFT, RIGHT, TOP, BOTTOM, made.case.length_ft, _top(made, trace))
    total = [(p.station_ft, p.total_lbf) for p in made.profile]
    drag = [(p.station_ft, p.drag_lbf) for p in made.profile]
    drawn = [
        axes.grid("lb", "ft pulled from the entry pit", name_below=58),
        _band(axes, total, made.total, TOTAL),
        _band(axes, drag, made.drag, DRAG),
        axes.line(total, TOTAL, stroke_linejoin="round", stroke_width=3),
        axes.line(drag, DRAG, stroke_linejoin="round", stroke_width=3, stroke_dasharray="9 4"),
        *_marks(axes, made),
        axes.line(trace, TRACE, stroke_width=1.5) if trace else "",
        *(
            axes.level(limit, LIMIT, stroke_width=2, stroke_dasharray=dashes)
            for limit, _, dashes in _limit_lines(made)
            if limit <= axes.highest
        ),
        *_labels(axes, made, trace),
    ]
    title = f"Planning estimate of the pull: {made.verdict.label}"
    return picture(WIDTH, HEIGHT, drawn, title, _description(made, trace), TEXT)


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


def _band(axes: Axes, profile: list[tuple[float, float]], spread: Range, color: str) -> str:
    low, high = (
        [(at, force * end / spread.expected_lbf) for at, force in profile]
        for end in (spread.low_lbf, spread.high_lbf)
    )
    return axes.band(low, high, color, fill_opacity=0.14)


def _marks(axes: Axes, made: ForceEstimate) -> list[str]:
    drawn = []
    for bend in made.case.bends:
        words = f"bend {bend.degrees:g}\N{DEGREE SIGN}"
        drawn.append(axes.upright(bend.station_ft, stroke_dasharray="1 6"))
        drawn.append(text(axes.x(bend.station_ft), BOTTOM + 38, words, "middle"))
    return drawn + [_spike(axes, made, spike) for spike in made.joints]


def _spike(axes: Axes, made: ForceEstimate, spike) -> str:
    x, y = axes.x(spike.joint.station_ft), axes.y(spike.total_lbf)
    low = axes.y(spike.total_lbf * made.low_lbf / made.expected_lbf)
    high = axes.y(spike.total_lbf * made.high_lbf / made.expected_lbf)
    anchor, shift = ("start", 12) if x < (LEFT + RIGHT) / 2 else ("end", -12)
    return (
        path(f"M{x:.1f} {low:.1f}V{high:.1f}", TOTAL, stroke_width=2)
        + path(f"M{x:.1f} {y - 7:.1f}l7 7l-7 7l-7 -7z", "none", TOTAL)
        + text(x + shift, y + 5, f"wiped joint {spike.total_lbf:,.0f}", anchor, TOTAL)
    )


def _limit_lines(made: ForceEstimate) -> list[tuple[float, str, str]]:
    """Return (limit, words, dashes) for the total's lowest limit and the new pipe's."""
    lines = []
    if made.limit_lbf is not None:
        part = part_told(certain(made.limited_by))
        lines.append((made.limit_lbf, f"limit of total: {part} {_down(made.limit_lbf)}", "2 3"))
    if made.drag_limit_lbf is not None:
        part, limit = part_told(certain(made.drag_limited_by)), made.drag_limit_lbf
        lines.append((limit, f"limit of drag: {part} {_down(limit)}", "12 5 2 5"))
    return lines


def _down(limit_lbf: float) -> str:
    return limit_lb(limit_lbf).removesuffix(" lb")


def _labels(axes: Axes, made: ForceEstimate, trace) -> list[str]:
    """Name each line at its right end; labels that would touch are moved apart."""
    last = made.profile[-1]
    wanted = [
        (axes.y(last.total_lbf), f"total {last.total_lbf:,.0f}", TOTAL),
        (axes.y(last.drag_lbf), f"drag on new pipe {last.drag_lbf:,.0f}", DRAG),
    ]
    if trace:
        # Where the puller still pulls: at the very end the force is let go.
        last_tenth = trace[-max(1, len(trace) // 10) :]
        force = max(force for _, force in last_tenth)
        wanted.append((axes.y(force), f"measured {force:,.0f}", TRACE))
    for limit, words, _ in _limit_lines(made):
        above = limit > axes.highest
        y = TOP - LINE_GAP if above else axes.y(limit)
        wanted.append((y, words + (" (above the chart)" if above else ""), LIMIT))
    placed = apart([(y - 6, *named) for y, *named in wanted], LINE_GAP, TEXT)
    return [text(RIGHT, y, words, "end", color) for y, words, color in placed]


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
