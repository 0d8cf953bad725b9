"""The year of every area: the mixed-integer model, strict or with one kind of rule made to give.

The cost of a plan is the priority-years its areas wait (half a year for program year 1, one and a
half for the second, ...), plus the openings of neighborhoods, plus the price of moving published
areas. A neighborhood with more jobs in a year than one crew can do counts one opening per crew it
needs at least: a lower limit of what the crew stage can reach, so the bound holds for both stages.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import combinations

from program.planning.solver.case import PlanArea, PlanCase, PlanYear
from program.planning.solver.model import LinearModel

KINDS = ("CREWS", "BUDGET", "RATE", "QUOTA", "WINDOWS", "LOCKS", "DEADLINE")


@dataclass
class YearModel:
    """The model with the places of its columns: x by (area, year), slack by (kind, label)."""

    case: PlanCase
    model: LinearModel = field(default_factory=LinearModel)
    x: dict[tuple[str, int], int] = field(default_factory=dict)
    slack: dict[tuple[str, object], int] = field(default_factory=dict)

    def terms(self, areas, year: int, factor):
        """(column, factor of the area) pairs of the areas that may be done in one year."""
        return [
            (self.x[area.id, year], factor(area)) for area in areas if (area.id, year) in self.x
        ]


def mean_priority(case: PlanCase) -> float:
    """The average area's priority, the unit of the move and keep weights; 1 if all are zero."""
    total = sum(area.priority for area in case.areas)
    return total / len(case.areas) if total > 0 else 1.0


def lending(case: PlanCase) -> float:
    """What a crew may do in a year as a multiple of its own number, all crews' total being kept."""
    return 1.0 + case.settings.crew_lending


def season_sets(case: PlanCase) -> list[frozenset[str]]:
    """The sets of seasons whose capacity has to hold, the whole year among them.

    Areas limited to some seasons fit exactly when, for every union of such limits, the areas
    confined to the union stay within its capacity (Hall's condition for a transport problem).
    """
    limits = sorted({area.seasons for area in case.areas if area.seasons}, key=sorted)
    unions = {frozenset(case.seasons)}
    for size in range(1, len(limits) + 1):
        unions |= {frozenset().union(*some) for some in combinations(limits, size)}
    return sorted(unions, key=sorted)


def confined(area: PlanArea, seasons: frozenset[str], case: PlanCase) -> bool:
    """Whether the area can be worked in no season outside the given ones."""
    return (area.seasons or frozenset(case.seasons)) <= seasons


def season_jobs(crew: tuple[int, ...], seasons: frozenset[str], case: PlanCase) -> int:
    """Jobs one crew can do in the given seasons of one year."""
    return sum(jobs for name, jobs in zip(case.seasons, crew, strict=True) if name in seasons)


@dataclass
class Cuts:
    """What the crew stage has taught the year stage.

    `together` holds (program years, area ids): sets of whole areas that no crews of those years can
    take together. `capacity` takes jobs off a year where that could not be proven; a plan drawn
    with it has no bound of its own. `whole_areas` is False once no plan at all lets every area stay
    whole: an overrun is then told instead.
    """

    together: list[tuple[frozenset[int], frozenset[str]]] = field(default_factory=list)
    capacity: dict[int, int] = field(default_factory=dict)
    whole_areas: bool = True


def year_model(case: PlanCase, *, give=(), cuts: Cuts | None = None) -> YearModel:
    """The year model.

    Parameters
    ----------
    give : kinds of rule (of KINDS) that may give, at a price; the price of the plan itself is then
        left out, so that the answer is the smallest change.
    cuts : limits learned from crew assignments that failed.
    """
    built = YearModel(case)
    elastic, cuts = bool(give), cuts or Cuts()
    _area_columns(built, give, elastic)
    for year in case.years:
        _capacity_rows(built, year, "CREWS" in give, cuts.capacity.get(year.year, 0))
        if cuts.whole_areas and not elastic:
            _whole_area_rows(built, year)
        _budget_row(built, year, "BUDGET" in give)
    _quota_rows(built, "QUOTA" in give)
    _rate_rows(built, "RATE" in give)
    for years, ids in cuts.together:
        for number in years:
            terms = [(built.x[a, number], 1) for a in sorted(ids) if (a, number) in built.x]
            built.model.row(terms, upper=len(ids) - 1)
    if not elastic and case.settings.move_weight > 0:
        _opening_columns(built)
    return built


def _area_columns(built: YearModel, give, elastic: bool) -> None:
    case, model = built.case, built.model
    first = case.years[0].year
    keep = case.settings.keep_weight * mean_priority(case)
    for area in case.areas:
        open_years = case.open_years(area)
        reach = "LOCKS" if area.locked_year is not None else "WINDOWS"
        for year in case.years:
            if year.year not in open_years and reach not in give:
                continue
            cost = 0.0 if elastic else area.priority * (year.year - first + 0.5)
            if not elastic and area.published_year not in (None, year.year):
                cost += keep
            column = model.column(cost, 0, 1, integer=True)
            built.x[area.id, year.year] = column
            if year.year not in open_years:
                model.costs[column] = float(area.jobs)
                built.slack[reach, (area.id, year.year)] = column
        _one_year_row(built, area, "DEADLINE" in give)


def _one_year_row(built: YearModel, area: PlanArea, may_wait: bool) -> None:
    terms = [
        (built.x[area.id, year.year], 1)
        for year in built.case.years
        if (area.id, year.year) in built.x
    ]
    if may_wait:
        left = built.model.column(area.jobs, 0, 1, integer=True)
        built.slack["DEADLINE", area.id] = left
        terms.append((left, 1))
    built.model.row(terms, 1, 1)


def _capacity_rows(built: YearModel, year: PlanYear, may_give: bool, cut: int) -> None:
    case = built.case
    for seasons in season_sets(case):
        areas = [area for area in case.areas if confined(area, seasons, case)]
        terms = built.terms(areas, year.year, lambda area: area.jobs)
        limit = sum(season_jobs(crew, seasons, case) for crew in year.crew_jobs)
        whole_year = seasons == frozenset(case.seasons)
        if may_give:
            label = year.year, "" if whole_year else " + ".join(sorted(seasons))
            terms.append((_slack(built, "CREWS", label, 1.0), -1))
        built.model.row(terms, upper=limit - (cut if whole_year else 0))


def _whole_area_rows(built: YearModel, year: PlanYear) -> None:
    """A crew takes no more than k whole areas that are each larger than its (k + 1)-th part."""
    limits = [sum(crew) * lending(built.case) for crew in year.crew_jobs]
    largest = max(limits, default=0)
    for most in (1, 2, 3):
        big = [area for area in built.case.areas if area.jobs * (most + 1) > largest]
        if len(big) <= most:
            continue
        least = min(area.jobs for area in big)
        room = sum(min(most, int(limit / least + 1e-9)) for limit in limits)
        built.model.row(built.terms(big, year.year, lambda area: 1), upper=room)


def _budget_row(built: YearModel, year: PlanYear, may_give: bool) -> None:
    # Thousands of dollars keep the factors near those of the other rows.
    terms = built.terms(built.case.areas, year.year, lambda area: area.cost / 1000)
    if may_give:
        terms.append((_slack(built, "BUDGET", year.year, 1.0), -1))
    built.model.row(terms, upper=(year.budget - year.set_aside) / 1000)
    if year.bound:
        paid = [(column, -1) for column in _bound_columns(built, year)]
        built.model.row([*terms, *paid], upper=(year.free - year.set_aside) / 1000)


def _bound_columns(built: YearModel, year: PlanYear) -> list[int]:
    """Columns of what money bound to places pays there: no more than it is, and than work costs."""
    model = built.model
    pays: dict[str, list[int]] = {}
    for money in year.bound:
        columns = {hood: model.column() for hood in sorted(money.neighborhoods)}
        model.row([(column, 1) for column in columns.values()], upper=money.dollars / 1000)
        for hood, column in columns.items():
            pays.setdefault(hood, []).append(column)
    for hood, own in pays.items():
        areas = [area for area in built.case.areas if area.neighborhood == hood]
        costs = built.terms(areas, year.year, lambda area: area.cost / 1000)
        model.row([*((c, 1) for c in own), *((x, -dollars) for x, dollars in costs)], upper=0)
    return [column for own in pays.values() for column in own]


def _quota_rows(built: YearModel, may_give: bool) -> None:
    for quota in built.case.quotas:
        for year in quota.years:
            terms = built.terms(
                built.case.areas,
                year,
                lambda area, quota=quota: area.jobs * (quota.holds(area) - quota.least_share),
            )
            if may_give:
                terms.append((_slack(built, "QUOTA", (quota.group, year), 1.0), 1))
            built.model.row(terms, lower=0)


def _rate_rows(built: YearModel, may_give: bool) -> None:
    case, settings = built.case, built.case.settings
    scale = max(year.pool for year in case.years)
    so_far = []
    done = sum(case.past_rates)
    for year in case.years:
        share = scale / year.pool
        so_far += built.terms(case.areas, year.year, lambda area, s=share: area.counted * s)
        done += year.already_replaced / Fraction(year.pool)
        if year.year < settings.first_assessed_year:
            continue
        wanted = float(scale * (year.year * settings.required_rate - done))
        terms = list(so_far)
        if may_give:
            terms.append((_slack(built, "RATE", year.year, 1.0), 1))
        built.model.row(terms, lower=wanted)


def _slack(built: YearModel, kind: str, label, price: float) -> int:
    column = built.model.column(price, 0)
    built.slack[kind, label] = column
    return column


def _opening_columns(built: YearModel) -> None:
    case, model = built.case, built.model
    price = case.settings.move_weight * mean_priority(case)
    by_hood: dict[str, list[PlanArea]] = {}
    for area in case.areas:
        by_hood.setdefault(area.neighborhood, []).append(area)
    for areas in by_hood.values():
        total = sum(area.jobs for area in areas)
        for year in case.years:
            terms = built.terms(areas, year.year, lambda area: area.jobs)
            largest = max(map(sum, year.crew_jobs), default=0) * lending(case)
            if not terms or largest <= 0:
                continue
            opened = model.column(price, 0, len(year.crew_jobs), integer=True)
            model.row([*terms, (opened, -min(largest, total))], upper=0)
