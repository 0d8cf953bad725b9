"""Every plan of a small case tried one by one: what a plan drawn by the solver is held against."""

import itertools
from collections import Counter

from program.planning.solver import plan_cost


def every_plan(case):
    """(cost, years) of the best of all plans with two crews, by trying each."""
    best = None
    for years in itertools.product([y.year for y in case.years], repeat=len(case.areas)):
        year_of = {a.id: y for a, y in zip(case.areas, years, strict=True)}
        if not _allowed(case, year_of):
            continue
        openings = sum(_fewest_openings(case, year, year_of) for year in case.years)
        if openings == float("inf"):
            continue
        cost = plan_cost(case, year_of, openings)
        if best is None or cost < best:
            best = cost
    return best


def _allowed(case, year_of):
    rates = []
    for year in case.years:
        placed = [a for a in case.areas if year_of[a.id] == year.year]
        if sum(a.jobs for a in placed) > year.capacity or sum(a.cost for a in placed) > year.budget:
            return False
        if any(year.year not in case.open_years(a) for a in placed):
            return False
        if year.bound and not payable(year, placed):
            return False
        for quota in case.quotas:
            own = sum(a.jobs for a in placed if quota.holds(a))
            if year.year in quota.years and own < quota.least_share * sum(a.jobs for a in placed):
                return False
        rates.append(sum(a.jobs for a in placed) / year.pool)
        if year.year >= 3 and sum(rates) / len(rates) < float(case.settings.required_rate) - 1e-12:
            return False
    return True


def payable(year, placed):
    """Whether every set of places costs no more than all money that may be spent in one of them."""
    costs = Counter({"": year.set_aside})
    for area in placed:
        costs[area.neighborhood] += area.cost
    free = year.budget - sum(money.dollars for money in year.bound)
    sets = (some for size in range(1, 5) for some in itertools.combinations(costs, size))
    return all(
        sum(costs[place] for place in some)
        <= free + sum(m.dollars for m in year.bound if m.neighborhoods & set(some)) + 1e-6
        for some in sets
    )


def _fewest_openings(case, year, year_of):
    placed = [a for a in case.areas if year_of[a.id] == year.year]
    limit = [sum(crew) * (1 + case.settings.crew_lending) for crew in year.crew_jobs]
    best = float("inf")
    for crews in itertools.product(range(len(limit)), repeat=len(placed)):
        load = [0] * len(limit)
        for area, crew in zip(placed, crews, strict=True):
            load[crew] += area.jobs
        if all(used <= most for used, most in zip(load, limit, strict=True)):
            pairs = {(a.neighborhood, c) for a, c in zip(placed, crews, strict=True)}
            best = min(best, len(pairs))
    return best
