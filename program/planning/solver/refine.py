"""Close the gap of the year stage: the whole model once, then a few years at a time.

For a city the whole model is solved with areas that may be broken, which is quick and gives the
bound: nearly all areas come out whole, as there are far fewer limits than areas. These are held,
and the few that are broken are placed whole, with some others to make room for them.

The bound of the whole model is good at once; what takes long is a plan that comes near it. Solving
three neighboring years exactly, all others held, is quick and never makes the plan worse. The
bound stays that of the whole model, so the gap reported is proven.
"""

from __future__ import annotations

import random
from dataclasses import replace

from program.planning.solver.model import Solution
from program.planning.solver.years import YearModel

_FIRST_GAP = 0.02
_WINDOW_YEARS, _WINDOW_GAP, _WINDOW_NODES = 3, 0.0005, 20
_SWEEPS, _WORTHWHILE = 3, 0.0002
_WHOLE = 1e-6
_CITY = 12_000  # columns from which on the whole model is too large to be searched
_MOVED = (300, 900, 2_700)  # whole areas that may move to make room for the broken ones


def years_solved(built: YearModel, gap: float) -> Solution:
    """The year stage solved to the gap where the work limits allow it."""
    settings = built.case.settings
    limits = {"seconds_limit": settings.seconds_limit, "seed": settings.seed}
    if len(built.x) > _CITY:
        return _city_solved(built, gap, limits)
    small = len(built.x) < 500
    first = built.model.solve(
        gap=gap if small else max(gap, _FIRST_GAP), node_limit=settings.node_limit, **limits
    )
    if not first.values or relative_gap(first) <= gap:
        return first
    best = _swept(built, first, gap, limits)
    if relative_gap(best) <= gap:
        return replace(best, status="OPTIMAL")
    last = built.model.solve(gap=gap, node_limit=settings.node_limit, start=best.values, **limits)
    nodes = best.nodes + last.nodes
    if not last.values or last.objective > best.objective:
        bound = max(best.bound, last.bound) if last.values else best.bound
        return replace(best, status="FEASIBLE", bound=bound, nodes=nodes)
    return replace(last, bound=max(best.bound, last.bound), nodes=nodes)


def _city_solved(built: YearModel, gap: float, limits) -> Solution:
    settings = built.case.settings
    broken = built.model.solve(gap=gap, node_limit=1, relaxed=True, **limits)
    if not broken.values:
        return broken
    within = {(area, year): broken.values[column] for (area, year), column in built.x.items()}
    whole = {area for (area, _), value in within.items() if value > 1 - _WHOLE}
    order = random.Random(settings.seed).sample(sorted(whole), len(whole))
    found = broken
    for number in _MOVED:
        kept = whole - set(order[:number])
        held = {c: round(broken.values[c]) for (area, _), c in built.x.items() if area in kept}
        found = built.model.solve(gap=gap / 2, node_limit=settings.node_limit, fixed=held, **limits)
        if found.values:
            found = replace(found, bound=broken.objective)
            status = "OPTIMAL" if relative_gap(found) <= gap else "FEASIBLE"
            return replace(found, status=status)
    # With areas held nothing is proven impossible.
    return replace(found, status="NONE", values=())


def relative_gap(outcome: Solution) -> float:
    """How far the plan may lie above the best possible, as a share of its own cost."""
    if outcome.objective <= 0:
        return 0.0
    return max(0.0, (outcome.objective - outcome.bound) / outcome.objective)


def _swept(built: YearModel, best: Solution, gap: float, limits) -> Solution:
    for _ in range(_SWEEPS):
        before = best.objective
        for window in _windows([year.year for year in built.case.years]):
            best = _window_solved(built, best, window, limits)
            if relative_gap(best) <= gap:
                return best
        if before - best.objective < _WORTHWHILE * before:
            break
    return best


def _windows(years: list[int]):
    starts = list(range(0, max(1, len(years) - _WINDOW_YEARS + 1), _WINDOW_YEARS - 1))
    starts.append(max(0, len(years) - _WINDOW_YEARS))
    return [set(years[start : start + _WINDOW_YEARS]) for start in dict.fromkeys(starts)]


def _window_solved(built: YearModel, best: Solution, window, limits) -> Solution:
    held = {
        column: round(best.values[column])
        for (_, year), column in built.x.items()
        if year not in window
    }
    found = built.model.solve(
        gap=_WINDOW_GAP, node_limit=_WINDOW_NODES, start=best.values, fixed=held, **limits
    )
    nodes, clock = best.nodes + found.nodes, best.stopped_by_clock or found.stopped_by_clock
    if found.values and found.objective < best.objective:
        best = replace(best, values=found.values, objective=found.objective)
    return replace(best, nodes=nodes, stopped_by_clock=clock)
