"""Processor time of drawing a plan and playing its forecast, on invented towns.

Run `python -m tests.bench.plans`; the same seeds give the same towns, plans and odds. Processor
time is measured, since a machine that is shared says nothing by its clock.
"""

from __future__ import annotations

import time
from dataclasses import replace

from program.planning.forecast import ForecastCase, ForecastGroup, crews_needed, forecast
from program.planning.solver import draw, with_published
from tests.program.planning.cases import small_case, town

TOWNS = ((300, 20, 1), (300, 20, 2), (1_000, 40, 1), (1_000, 40, 2))


def timed(work):
    """Return what the work gives, and the processor seconds that it takes."""
    start = time.process_time()
    found = work()
    return found, time.process_time() - start


def main() -> None:
    """Print one line for each thing measured."""
    draw(small_case())  # the solver's library is loaded once, before anything is timed
    for areas, hoods, seed in TOWNS:
        case = town(areas, hoods, seed)
        plan, seconds = timed(lambda case=case: draw(case))
        print(
            f"{areas:,} areas, 10 years, 6 crews, town {seed}: {seconds:.1f} s, {plan.status}, "
            f"gap {plan.gap:.2%}, {plan.openings} openings, {plan.work} nodes"
        )
        print(f"  after a small change {_kept(case, plan, areas)}")
    odds = _forecast_case()
    found, seconds = timed(lambda: forecast(odds))
    print(f"forecast, {found.runs:,} runs, 10 years, 30 neighbourhoods: {seconds:.1f} s")
    needed, seconds = timed(lambda: crews_needed(odds))
    print(f"crews needed for 90 %: {seconds:.1f} s, {len(needed.tried)} numbers of crews tried")


def _kept(case, plan, areas: int) -> str:
    """Draw again with what is published, after a few areas are closed in their years."""
    year_of = plan.year_of()
    shut = {area.id for area in case.areas[:: areas // 3]}
    changed = tuple(
        replace(area, allowed_years=frozenset(range(1, 11)) - {year_of[area.id]})
        if area.id in shut
        else area
        for area in case.areas
    )
    again = with_published(replace(case, areas=changed), year_of)
    found, seconds = timed(lambda: draw(again))
    same = sum(found.year_of()[area] == year for area, year in year_of.items())
    return f"({len(shut)} areas closed): {seconds:.1f} s, {same / areas:.1%} keep their year"


def _forecast_case() -> ForecastCase:
    years = tuple(range(1, 11))
    groups = tuple(
        ForecastGroup(year, f"H{hood}", 40, 20 if year <= 3 else 0, (3.0, 5.0))
        for year in years
        for hood in range(30)
    )
    return ForecastCase(
        first_pool=13_800,
        groups=groups,
        years=years,
        crews=(6.0,) * 10,
        crew_days=190,
        jobs_per_crew_day=1.3,
        required_rate=0.08,
        first_assessed_year=3,
        budgets=(14e6,) * 10,
        cost_per_job=9_000,
        cost_per_inspection=400,
        complete_complies=True,
    )


if __name__ == "__main__":
    main()
