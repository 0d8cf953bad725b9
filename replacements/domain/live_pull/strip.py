"""The run of a live pull as plain SVG: force so far, the band, the limit, and where the head is.

Lines are told apart by dashes and words, and drawn with attributes only, so that a strict content
policy lets them through. Joints are diamonds, bends are hooks; their names stand beside the strip.
"""

from collections.abc import Mapping
from math import floor

from replacements.domain.pull_logs.rules import EventRules, shipped_rules

from .plan import LivePlan, Mark
from .samples import CELL_FT
from .state import LiveState

WIDTH, HEIGHT = 390, 250
LEFT, RIGHT, TOP, BOTTOM = 6, 384, 22, 212
SHAPES = {"joint": "l5 6l-5 6l-5 -6z", "bend": "v6q0 6 7 6", "end": "v12"}
INK, BAND, EDGE = "#111111", "#b9cfe0", "#8c1c13"


def live_strip_svg(
    plan: LivePlan,
    state: LiveState,
    trace: Mapping[str, float],
    rules: EventRules | None = None,
) -> str:
    """Return the strip.

    trace : highest force of each half foot so far, by the number of the half foot
    """
    rules = rules or shipped_rules()
    cells = {int(cell) * CELL_FT: force for cell, force in trace.items()}
    longest = max([plan.length_ft, *(at + CELL_FT for at in cells)])
    highest = max([plan.limit_lbf or 0.0, *cells.values(), *(p.high_lbf for p in plan.band), 1.0])
    scale = _Scale(longest, 1.06 * highest)
    drawn = [
        *(scale.bar(at, force) for at, force in sorted(cells.items()) if force > 0),
        scale.band(plan),
        *_levels(scale, plan, rules),
        *(scale.mark(mark) for mark in plan.marks),
        *_feet(scale, longest),
        scale.head(state) if state.at_ft is not None else "",
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="100%" '
        f'role="img" aria-label="{_words(plan, state)}" font-family="system-ui, sans-serif" '
        f'font-size="14" font-weight="600"><rect width="{WIDTH}" height="{HEIGHT}" '
        f'fill="#ffffff"/>{"".join(drawn)}</svg>'
    )


class _Scale:
    def __init__(self, longest_ft: float, highest_lbf: float):
        self.longest_ft, self.highest_lbf = longest_ft, highest_lbf

    def x(self, at_ft: float) -> float:
        share = min(max(at_ft / self.longest_ft, 0.0), 1.0)
        return LEFT + (RIGHT - LEFT) * share

    def y(self, force_lbf: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * max(force_lbf, 0.0) / self.highest_lbf

    def band(self, plan: LivePlan) -> str:
        low = [(p.station_ft, p.low_lbf) for p in plan.band]
        high = [(p.station_ft, p.high_lbf) for p in reversed(plan.band)]
        points = " ".join(f"{self.x(at):.1f},{self.y(lbf):.1f}" for at, lbf in [*low, *high])
        return f'<polygon points="{points}" fill="{BAND}" fill-opacity="0.7"/>' if points else ""

    def bar(self, at_ft: float, force_lbf: float) -> str:
        left, top = self.x(at_ft), self.y(force_lbf)
        width = max(self.x(at_ft + CELL_FT) - left - 0.4, 1.0)
        return (
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" '
            f'height="{BOTTOM - top:.1f}" fill="{INK}"/>'
        )

    def level(self, force_lbf: float, words: str, stroke: str) -> str:
        y = self.y(force_lbf)
        return (
            f'<path d="M{LEFT} {y:.1f}H{RIGHT}" stroke="{EDGE}" fill="none" {stroke}/>'
            f'<text x="{RIGHT}" y="{y - 3:.1f}" text-anchor="end" fill="{EDGE}" '
            f'stroke="#ffffff" stroke-width="3" paint-order="stroke">{words}</text>'
        )

    def mark(self, mark: Mark) -> str:
        x = self.x(mark.station_ft)
        return (
            f'<path d="M{x:.1f} {TOP}V{BOTTOM}" stroke="{INK}" stroke-dasharray="1 5"/>'
            f'<path d="M{x:.1f} {BOTTOM + 2}{SHAPES[mark.kind]}" stroke="{INK}" stroke-width="2" '
            f'fill="{INK if mark.kind == "joint" else "none"}"/>'
        )

    def head(self, state: LiveState) -> str:
        x = self.x(state.at_ft)
        lost = state.force_lbf is None
        dashes = ' stroke-dasharray="6 4"' if lost else ""
        return (
            f'<path d="M{x:.1f} {TOP}V{BOTTOM}" stroke="{INK}" stroke-width="3"{dashes}/>'
            f'<path d="M{x:.1f} {TOP}l-9 -14h18z" fill="{"none" if lost else INK}" '
            f'stroke="{INK}" stroke-width="2"/>'
        )


def _levels(scale: _Scale, plan: LivePlan, rules: EventRules):
    if plan.limit_lbf is None:
        return
    for share, word, stroke in (
        (rules["near_limit_share"], "slow", 'stroke-width="2" stroke-dasharray="2 4"'),
        (rules["live_stop_share"], "stop", 'stroke-width="2" stroke-dasharray="9 4"'),
        (1.0, "limit", 'stroke-width="3"'),
    ):
        force = share * plan.limit_lbf
        yield scale.level(force, f"{word} {floor(force):,}", stroke)


def _feet(scale: _Scale, longest_ft: float):
    step = next(step for step in (5, 10, 20, 50, 100, 500) if longest_ft / step <= 8 or step == 500)
    for tick in range(0, int(longest_ft) + 1, step):
        x, anchor = scale.x(tick), "start" if tick == 0 else "middle"
        if x < RIGHT - 12:
            yield (
                f'<text x="{x:.1f}" y="{HEIGHT - 8}" text-anchor="{anchor}" fill="{INK}">'
                f"{tick}{' ft' if tick == 0 else ''}</text>"
            )


def _words(plan: LivePlan, state: LiveState) -> str:
    where = f"the head at {state.at_ft:.1f} ft" if state.at_ft is not None else "not begun"
    most = f", {state.peak_lbf:,.0f} lb at most so far" if state.peak_lbf is not None else ""
    limit = f", limit {floor(plan.limit_lbf):,} lb" if plan.limit_lbf else ", no limit known"
    return f"Force along the run of {plan.length_ft:g} ft: {where}{most}{limit}."
