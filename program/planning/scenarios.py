"""Two plans side by side: what changes for each neighborhood, for the cost and for the odds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple


class PlacedArea(NamedTuple):
    """One area of a plan: its jobs, its cost (US dollars), and its year, None where in none."""

    key: str
    neighborhood: str
    jobs: int
    cost: float
    year: int | None


@dataclass(frozen=True)
class Scenario:
    """A plan's areas, what each program year costs, and its odds where they were played."""

    areas: tuple[PlacedArea, ...]
    costs: Mapping[int, float]
    complies: float | None = None
    finishes: float | None = None

    def years(self) -> dict[str, int]:
        """Return the program year of every area that has one."""
        return {area.key: area.year for area in self.areas if area.year}


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

    before: Scenario
    after: Scenario
    neighborhoods: tuple[NeighborhoodChange, ...]

    @property
    def cost_before(self) -> float:
        """What the first costs, US dollars."""
        return sum(self.before.costs.values())

    @property
    def cost_after(self) -> float:
        """What the second costs, US dollars."""
        return sum(self.after.costs.values())

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
    hoods = sorted({area.neighborhood for area in (*before.areas, *after.areas)})
    return ScenarioComparison(before, after, tuple(_change(hood, before, after) for hood in hoods))


def _change(hood: str, before: Scenario, after: Scenario) -> NeighborhoodChange:
    was, now = before.years(), after.years()
    moved = tuple(
        area.key
        for area in after.areas
        if area.neighborhood == hood
        and area.key in was
        and area.key in now
        and was[area.key] != now[area.key]
    )
    pairs = zip(_side(hood, before), _side(hood, after), strict=True)
    figures: tuple[Any, ...] = (hood, *(one for pair in pairs for one in pair), moved)
    return NeighborhoodChange(*figures)


def _side(hood: str, scenario: Scenario) -> tuple:
    """Jobs placed, their mean program year, the last one, and their cost."""
    placed = [area for area in scenario.areas if area.neighborhood == hood and area.year]
    jobs = sum(area.jobs for area in placed)
    if not jobs:
        return 0, None, None, 0.0
    years = [area.year or 0 for area in placed]
    mean = sum(area.jobs * year for area, year in zip(placed, years, strict=True)) / jobs
    return jobs, mean, max(years), sum(area.cost for area in placed)
