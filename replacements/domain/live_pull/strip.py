"""The run of a live pull as a picture: force so far, the band, the limit, and where the head is.

Lines are told apart by dashes and words. Joints are diamonds, bends are hooks; their names stand
beside the strip.
"""

from collections.abc import Mapping
from math import floor

from replacements.domain.pull_logs.rules import EventRules, shipped_rules
from services_inventory.domain.drawing import Axes, path, picture, shape, text, ticks

from .plan import LivePlan, Mark
from .samples import CELL_FT
from .state import LiveState

WIDTH, HEIGHT = 390, 250
LEFT, RIGHT, TOP, BOTTOM = 6, 384, 22, 212
SHAPES = {"joint": "l5 6l-5 6l-5 -6z", "bend": "v6q0 6 7 6", "end": "v12"}
INK, BAND, EDGE = "#111111", "#b9cfe0", "#8c1c13"
BOLD = {"font_size": 14, "font_weight": 600}


def live_strip_svg(plan: LivePlan, state: LiveState, trace: Mapping[str, float]) -> str:
    """Return the strip.

    trace : highest force of each half foot so far, by the number of the half foot
    """
    cells = {int(cell) * CELL_FT: force for cell, force in trace.items()}
    longest = max([plan.length_ft, *(at + CELL_FT for at in cells)])
    highest = max([plan.limit_lbf or 0.0, *cells.values(), *(p.high_lbf for p in plan.band), 1.0])
    axes = Axes(LEFT, RIGHT, TOP, BOTTOM, longest, 1.06 * highest)
    low = [(p.station_ft, p.low_lbf) for p in plan.band]
    high = [(p.station_ft, p.high_lbf) for p in plan.band]
    drawn = [
        *(_bar(axes, at, force) for at, force in sorted(cells.items()) if force > 0),
        axes.band(low, high, BAND, fill_opacity=0.7) if low else "",
        *_levels(axes, plan, shipped_rules()),
        *(_mark(axes, mark) for mark in plan.marks),
        *_feet(axes),
        "" if state.at_ft is None else _head(axes, state.at_ft, lost=state.force_lbf is None),
    ]
    return picture(WIDTH, HEIGHT, drawn, _words(plan, state))


def _bar(axes: Axes, at_ft: float, force_lbf: float) -> str:
    left, top = axes.x(at_ft), axes.y(force_lbf)
    width = max(axes.x(at_ft + CELL_FT) - left - 0.4, 1.0)
    return shape("rect", x=left, y=top, width=width, height=BOTTOM - top, fill=INK)


def _mark(axes: Axes, mark: Mark) -> str:
    shown = f"M{axes.x(mark.station_ft):.1f} {BOTTOM + 2}{SHAPES[mark.kind]}"
    return axes.upright(mark.station_ft, INK, stroke_dasharray="1 5") + path(
        shown, INK, INK if mark.kind == "joint" else "none", stroke_width=2
    )


def _head(axes: Axes, at_ft: float, *, lost: bool) -> str:
    at_ft = min(max(at_ft, 0.0), axes.longest)
    arrow = f"M{axes.x(at_ft):.1f} {TOP}l-9 -14h18z"
    return axes.upright(
        at_ft, INK, stroke_width=3, stroke_dasharray="6 4" if lost else None
    ) + path(arrow, INK, "none" if lost else INK, stroke_width=2)


def _levels(axes: Axes, plan: LivePlan, rules: EventRules):
    if plan.limit_lbf is None:
        return
    for share, word, width, dashes in (
        (rules["near_limit_share"], "slow", 2, "2 4"),
        (rules["live_stop_share"], "stop", 2, "9 4"),
        (1.0, "limit", 3, None),
    ):
        force = share * plan.limit_lbf
        yield axes.level(force, EDGE, stroke_width=width, stroke_dasharray=dashes)
        yield text(RIGHT, axes.y(force) - 3, f"{word} {floor(force):,}", "end", EDGE, **BOLD)


def _feet(axes: Axes):
    for tick in ticks(0, axes.longest, 8):
        x, words, anchor = axes.x(tick), f"{tick:g}", "middle"
        if not tick:
            words, anchor = "0 ft", "start"
        if x < RIGHT - 12:
            yield text(x, HEIGHT - 8, words, anchor, INK, **BOLD)


def _words(plan: LivePlan, state: LiveState) -> str:
    where = f"the head at {state.at_ft:.1f} ft" if state.at_ft is not None else "not begun"
    most = f", {state.peak_lbf:,.0f} lb at most so far" if state.peak_lbf is not None else ""
    limit = f", limit {floor(plan.limit_lbf):,} lb" if plan.limit_lbf else ", no limit known"
    return f"Force along the run of {plan.length_ft:g} ft: {where}{most}{limit}."
