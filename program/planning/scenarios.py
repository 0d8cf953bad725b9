"""Two plans side by side: what changes for each neighborhood, for the cost and for the odds."""

from __future__ import annotations

from dataclasses import dataclass

from program.planning.forecast import Forecast
from program.planning.solver import Plan, PlanCase


@dataclass(frozen=True)
class Scenario:
    """A named case with its drawn plan and, where one was made, its forecast."""

    name: str
    case: PlanCase
    plan: Plan
    forecast: Forecast | None = None


@dataclass(frozen=True)
class NeighborhoodChange:
    """One neighborhood in both plans; years are job-weighted means, costs US dollars."""

    neighborhood: str
    jobs_before: int
    jobs_after: int
    mean_year_before: float | None
    mean_year_after: float | None
    finished_before: int | None
    finished_after: int | None
    cost_before: float
    cost_after: float
    moved: tuple[str, ...]

    def sentence(self) -> str:
        """The change in words."""
        if self.mean_year_before is None or self.mean_year_after is None:
            state = "is only in the second" if self.mean_year_before is None else "is left out"
            return f"{self.neighborhood} {state} plan."
        shift = self.mean_year_after - self.mean_year_before
        if not self.moved and abs(shift) < 0.005:
            return f"{self.neighborhood} does not change."
        way = "earlier" if shift < 0 else "later"
        return (
            f"{self.neighborhood}: the average job is {abs(shift):.1f} years {way}, it finishes "
            f"in program year {self.finished_after} (before: {self.finished_before}), "
            f"{len(self.moved)} areas move."
        )


@dataclass(frozen=True)
class ScenarioComparison:
    """Differences of the second scenario from the first."""

    before: str
    after: str
    neighborhoods: tuple[NeighborhoodChange, ...]
    cost_by_year: tuple[tuple[int, float, float], ...]
    cost_before: float
    cost_after: float
    complies_before: float | None
    complies_after: float | None
    finishes_before: float | None
    finishes_after: float | None
    moved: int

    def rows(self) -> list[dict[str, object]]:
        """One flat row per neighborhood, for a table or a CSV file."""
        names = NeighborhoodChange.__dataclass_fields__
        return [
            {name: getattr(change, name) for name in names if name != "moved"}
            | {"areas_moved": len(change.moved)}
            for change in self.neighborhoods
        ]


def compare(before: Scenario, after: Scenario) -> ScenarioComparison:
    """Set two scenarios side by side, neighborhood by neighborhood."""
    hoods = sorted(
        {area.neighborhood for scenario in (before, after) for area in scenario.case.areas}
    )
    changes = tuple(_change(hood, before, after) for hood in hoods)
    first, second = _costs(before), _costs(after)
    years = sorted(set(first) | set(second))
    return ScenarioComparison(
        before.name,
        after.name,
        changes,
        tuple((year, first.get(year, 0.0), second.get(year, 0.0)) for year in years),
        sum(first.values()),
        sum(second.values()),
        before.forecast.complies_throughout if before.forecast else None,
        after.forecast.complies_throughout if after.forecast else None,
        before.forecast.finishes if before.forecast else None,
        after.forecast.finishes if after.forecast else None,
        sum(len(change.moved) for change in changes),
    )


def _costs(scenario: Scenario) -> dict[int, float]:
    return {row.year: row.cost for row in scenario.plan.years}


def _change(hood: str, before: Scenario, after: Scenario) -> NeighborhoodChange:
    first, second = _side(hood, before), _side(hood, after)
    was, now = before.plan.year_of(), after.plan.year_of()
    areas = [area.id for area in after.case.areas if area.neighborhood == hood]
    moved = tuple(a for a in areas if a in was and a in now and was[a] != now[a])
    return NeighborhoodChange(
        hood,
        first[0],
        second[0],
        first[1],
        second[1],
        first[2],
        second[2],
        first[3],
        second[3],
        moved,
    )


def _side(hood: str, scenario: Scenario):
    """Jobs placed, their mean program year, the last one, and their cost."""
    year_of = scenario.plan.year_of()
    placed = [
        area for area in scenario.case.areas if area.neighborhood == hood and area.id in year_of
    ]
    jobs = sum(area.jobs for area in placed)
    if not jobs:
        return 0, None, None, 0.0
    mean = sum(area.jobs * year_of[area.id] for area in placed) / jobs
    return jobs, mean, max(year_of[area.id] for area in placed), sum(area.cost for area in placed)
