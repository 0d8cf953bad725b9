"""The crew of every area inside one year: fewest openings of a neighborhood by a crew.

Of the ways with so few openings, one that loads the crews evenly is looked for.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import ceil, inf

from program.planning.solver.case import PlanArea, PlanCase, PlanYear
from program.planning.solver.model import LinearModel
from program.planning.solver.years import confined, lending, season_jobs, season_sets

# Crews loaded within a tenth of the most even way are even enough.
_EVEN = 0.1
# Above this many ways to put an area with a crew they are dealt out instead of solved for.
_MOST_WAYS, _ORDERS = 4_000, 20
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
    if len(areas) * len(year.crew_jobs) > _MOST_WAYS:
        return _dealt(case, year, areas)
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


def _dealt(case: PlanCase, year: PlanYear, areas) -> CrewWork:
    """Areas dealt out neighborhood by neighborhood: evenly if that can be, else up to the limits.

    The largest neighborhood is first; where areas run over, other orders are tried, too. The bound
    of the plan counts the fewest openings there can be, so its gap tells what this gives away.
    """
    by_hood: dict[str, list[PlanArea]] = {}
    for area in areas:
        by_hood.setdefault(area.neighborhood, []).append(area)
    hoods = sorted(by_hood.values(), key=lambda own: -sum(area.jobs for area in own))
    share = (1 + _EVEN) * sum(area.jobs for area in areas) / max(1, year.capacity)
    least = _filled(case, year, hoods, min(lending(case), share))
    order = random.Random(case.settings.seed)
    for attempt in range(_ORDERS):
        if not least.overrun:
            break
        if attempt:
            order.shuffle(hoods)
        found = _filled(case, year, hoods, lending(case))
        least = min(least, found, key=lambda work: work.overrun)
    return least


def _filled(case: PlanCase, year: PlanYear, hoods, part: float) -> CrewWork:
    """Fill crews to a part of what they can do, one neighborhood after the other.

    What is left of one goes to the crew whose room it fits most tightly.
    """
    room, crew_of = _Room(case, year, part), {}
    for members in hoods:
        left = sorted(members, key=lambda area: (-area.jobs, area.id))
        while left:
            crew, before = room.best_for(sum(area.jobs for area in left)), len(left)
            for area in list(left):
                if room.fits(crew, area):
                    left.remove(area)
                    room.give(crew, area)
                    crew_of[area.id] = crew + 1
            if len(left) == before:
                # No crew has room for it whole: it runs over, and this is told.
                area, crew = left.pop(0), room.best_for(inf)
                room.give(crew, area)
                crew_of[area.id] = crew + 1
    openings = {(area.neighborhood, crew_of[area.id]) for members in hoods for area in members}
    return CrewWork(crew_of, len(openings), room.overrun(), 0)


class _Room:
    """What each crew of a year can still take, for every set of seasons."""

    def __init__(self, case: PlanCase, year: PlanYear, part: float):
        self._case, self._sets = case, season_sets(case)
        self._whole = self._sets.index(frozenset(case.seasons))
        self._left = [
            [season_jobs(jobs, seasons, case) * part for seasons in self._sets]
            for jobs in year.crew_jobs
        ]

    def best_for(self, jobs: float) -> int:
        """The crew whose room so many jobs fill most tightly; the emptiest where none has it."""
        rooms = [left[self._whole] for left in self._left]
        crews = range(len(rooms))
        tight = [crew for crew in crews if rooms[crew] >= jobs]
        return min(tight, key=rooms.__getitem__) if tight else max(crews, key=rooms.__getitem__)

    def fits(self, crew: int, area: PlanArea) -> bool:
        """Whether the crew can take the area, in whatever seasons it may be worked."""
        return all(self._left[crew][at] >= area.jobs for at in self._sets_of(area))

    def give(self, crew: int, area: PlanArea) -> None:
        """Take the area's jobs off the crew's room."""
        for at in self._sets_of(area):
            self._left[crew][at] -= area.jobs

    def overrun(self) -> int:
        """Jobs beyond the room of all crews."""
        return sum(ceil(-min(0.0, left[self._whole]) - 1e-6) for left in self._left)

    def _sets_of(self, area: PlanArea) -> list[int]:
        return [at for at, some in enumerate(self._sets) if confined(area, some, self._case)]


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
