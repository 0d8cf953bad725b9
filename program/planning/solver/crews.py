"""The crew of every area inside one year: fewest openings of a neighborhood by a crew.

Of the ways with so few openings, one that loads the crews evenly is looked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from program.planning.solver.case import PlanArea, PlanCase, PlanYear
from program.planning.solver.model import LinearModel
from program.planning.solver.years import confined, lending, season_jobs, season_sets

# Crews loaded within a tenth of the most even way are even enough.
_EVEN = 0.1
# Above this many areas one set is too weak a lesson to be worth making smaller.
_MOST_TO_REDUCE = 14


@dataclass(frozen=True)
class CrewWork:
    """Crew number (from 1) by area id, openings, jobs beyond the crews' capacity, nodes used.

    `proven` says that the areas can't be shared out without an overrun, not just that none was
    found.
    """

    crew_of: dict[str, int]
    openings: int
    overrun: int
    nodes: int
    proven: bool = False


def crews_of_year(case: PlanCase, year: PlanYear, areas, *, absolute_gap: float) -> CrewWork:
    """Give each area of the year to one crew within the crews' seasons.

    When whole areas don't fit the crews, the answer has the least overrun that is possible.
    """
    areas = sorted(areas, key=lambda area: (area.neighborhood, area.id))
    if not areas:
        return CrewWork({}, 0, 0, 0)
    proven = False
    for may_overrun in (False, True):
        model, x, overrun = _model(case, year, areas, may_overrun)
        outcome = model.solve(
            gap=0.0,
            absolute_gap=absolute_gap,
            node_limit=case.settings.crew_node_limit,
            seconds_limit=case.settings.seconds_limit,
            seed=case.settings.seed,
        )
        if outcome.values:
            break
        proven = outcome.status == "INFEASIBLE"
    crew_of = {area_id: crew + 1 for (area_id, crew), col in x.items() if outcome.values[col] > 0.5}
    openings = len({(area.neighborhood, crew_of[area.id]) for area in areas})
    over = ceil(sum(outcome.values[column] for column in overrun) - 1e-6)
    if over or len(year.crew_jobs) < 2:
        return CrewWork(crew_of, openings, over, outcome.nodes, proven)
    crew_of, nodes = _evened(case, year, areas, outcome.values)
    openings = len({(area.neighborhood, crew_of[area.id]) for area in areas})
    return CrewWork(crew_of, openings, 0, outcome.nodes + nodes)


def _evened(case: PlanCase, year: PlanYear, areas, values) -> tuple[dict[str, int], int]:
    """Crews by area with no more openings than `values` have, the fullest crew as little full as is
    soon found.
    """
    model, x, _ = _model(case, year, areas, False)
    opened = [column for column, cost in enumerate(model.costs) if cost]
    model.row([(col, 1) for col in opened], upper=sum(round(values[col]) for col in opened))
    for column in opened:
        model.costs[column] = 0.0
    peak, fullest = model.column(1, 0), 0.0
    for crew, jobs in enumerate(map(sum, year.crew_jobs)):
        terms = [(x[area.id, crew], area.jobs) for area in areas]
        model.row([*terms, (peak, -jobs)], upper=0)
        load = sum(round(values[column]) * count for column, count in terms)
        fullest = max(fullest, load / jobs if jobs else 0.0)
    settings = case.settings
    found = model.solve(
        gap=_EVEN,
        node_limit=settings.crew_node_limit,
        seconds_limit=settings.seconds_limit,
        seed=settings.seed,
        start=[*values, fullest],
    )
    values = found.values or values
    return {a: crew + 1 for (a, crew), col in x.items() if values[col] > 0.5}, found.nodes


def too_much_together(case: PlanCase, year: PlanYear, areas) -> frozenset[str]:
    """A smallest set of the areas that the crews of the year still can't take whole."""
    kept = sorted(areas, key=lambda area: (area.jobs, area.id))
    if len(kept) > _MOST_TO_REDUCE:
        return frozenset(area.id for area in kept)
    for area in list(kept):
        fewer = [other for other in kept if other.id != area.id]
        if fewer and crews_of_year(case, year, fewer, absolute_gap=len(fewer) * 9).proven:
            kept = fewer
    return frozenset(area.id for area in kept)


def _model(case: PlanCase, year: PlanYear, areas: list[PlanArea], may_overrun: bool):
    model, x = LinearModel(), {}
    crews = range(len(year.crew_jobs))
    alike = len(set(year.crew_jobs)) == 1
    for number, area in enumerate(areas):
        for crew in crews:
            # Like crews may be renumbered at will; the n-th area never needs a crew above n.
            shut = alike and crew > number
            x[area.id, crew] = model.column(0, 0, 0 if shut else 1, integer=True)
        model.row([(x[area.id, crew], 1) for crew in crews], 1, 1)
    overrun = []
    for crew in crews:
        if may_overrun:
            overrun.append(model.column(len(areas) + 1, 0))
        for seasons in season_sets(case):
            terms = [(x[a.id, crew], a.jobs) for a in areas if confined(a, seasons, case)]
            if may_overrun:
                terms.append((overrun[-1], -1))
            limit = season_jobs(year.crew_jobs[crew], seasons, case)
            model.row(terms, upper=limit * lending(case))
    _opening_rows(model, x, year, areas, None if may_overrun else lending(case))
    return model, x, overrun


def _opening_rows(model: LinearModel, x, year: PlanYear, areas, stretch) -> None:
    by_hood: dict[str, list[PlanArea]] = {}
    for area in areas:
        by_hood.setdefault(area.neighborhood, []).append(area)
    largest = max(map(sum, year.crew_jobs))
    for members in by_hood.values():
        total = sum(area.jobs for area in members)
        opened = []
        for crew, jobs in enumerate(year.crew_jobs):
            column = model.column(1, 0, 1, integer=True)
            opened.append((column, 1))
            reach = min(sum(jobs) * stretch, total) if stretch else total
            terms = [(x[area.id, crew], area.jobs) for area in members]
            model.row([*terms, (column, -reach)], upper=0)
        if stretch:
            model.row(opened, lower=ceil(total / (largest * stretch) - 1e-9))
