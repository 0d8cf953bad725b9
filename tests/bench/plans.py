"""Processor time of drawing a plan and playing its forecast, on invented towns.

Run `python -m tests.bench.plans`; the same seeds give the same towns, plans and odds. Processor
time is measured, since a machine that is shared says nothing by its clock, but for five scenarios
whose two processes need two cores to themselves.
"""

from __future__ import annotations

import time
from dataclasses import replace

from program.planning.forecast import ForecastCase, ForecastGroup, crews_needed, forecast
from program.planning.solver import draw
from program.two_processes import two_at_a_time
from tests.bench.rows import Measured, as_table, machine
from tests.program.planning.cases import small_case, town

MUST_S = {300: 5.0, 1_000: 10.0, 6_600: 60.0}
TOWNS = ((300, 20, 1), (300, 20, 2), (1_000, 40, 1), (1_000, 40, 2), (6_600, 77, 1))
CREWS = {6_600: 130}  # a city of 264,000 jobs; 6 elsewhere


def timed(work):
    """Return what the work gives, and the processor seconds that it takes."""
    start = time.process_time()
    found = work()
    return found, time.process_time() - start


def main() -> None:
    """Measure and print."""
    found = measure()
    print(f"{machine('')}, processor time\n\n{as_table(found)}")


def measure() -> list[Measured]:
    """Return processor seconds and proven gaps of plans and forecasts."""
    rows = []
    draw(small_case())  # the solver's library is loaded once, before anything is timed
    for areas, hoods, seed in TOWNS:
        crews = CREWS.get(areas, 6)
        case = town(areas, hoods, seed, crews=crews)
        plan, seconds = timed(lambda case=case: draw(case))
        name = f"{areas:,} areas, 10 years, {crews} crews, town {seed}"
        most = MUST_S[areas]
        note = f"{plan.status}, {plan.openings} openings, {plan.work} nodes"
        rows += [
            Measured(name, seconds, "s", None, most, most / 2, note),
            Measured(f"{name}: proven gap", 100 * plan.gap, "%", None, 0.5, 0.25),
            _drawn_again(case, plan, name),
        ]
    odds = _forecast_case()
    rows.append(_five_scenarios())
    found, seconds = timed(lambda: forecast(odds))
    name = f"forecast, {found.runs:,} runs, 10 years, 30 neighborhoods"
    rows.append(Measured(name, seconds, "s", None, 3, 1))
    needed, seconds = timed(lambda: crews_needed(odds))
    note = f"{len(needed.tried)} numbers of crews tried"
    return [*rows, Measured("crews needed for 90 %", seconds, "s", None, 3, 1, note)]


def _drawn_again(case, plan, name: str) -> Measured:
    """Draw again with what is published, after a few areas are closed in their years."""
    year_of = plan.year_of()
    areas = len(case.areas)
    shut = {area.id for area in case.areas[:: areas // 3]}
    changed = tuple(
        replace(area, allowed_years=frozenset(range(1, 11)) - {year_of[area.id]})
        if area.id in shut
        else area
        for area in case.areas
    )
    published = (replace(area, published_year=year_of.get(area.id)) for area in changed)
    again = replace(case, areas=tuple(published))
    found, seconds = timed(lambda: draw(again))
    other = sum(found.year_of()[area] != year for area, year in year_of.items())
    note = f"{len(shut)} areas closed; drawn in {seconds:.1f} s"
    return Measured(f"{name}: other year then", 100 * other / areas, "%", None, 5, 2, note)


def _five_scenarios() -> Measured:
    """Draw a town with five numbers of crews and play each, by two processes as the worker does."""
    from tests.bench.plans import scenario  # by the name under which the processes find it

    start, odds = time.perf_counter(), _forecast_case()
    asked = [(crews, odds) for crews in range(9, 4, -1)]  # those that take longest come first
    took = {crews: s for (crews, _), s in two_at_a_time(scenario, asked, "", lambda: True)}
    seconds = time.perf_counter() - start
    name = f"five scenarios of {TOWNS[0][0]} areas, each played, by the clock"
    each = ", ".join(f"{took[crews]:.1f}" for crews in sorted(took))
    note = f"5 to 9 crews, two at a time; processor seconds {each}"
    return Measured(name, seconds, "s", None, 15, 8, note)


def scenario(crews: int, odds: ForecastCase) -> float:
    """Draw and play one scenario; return its processor seconds."""
    areas, hoods, seed = TOWNS[0]
    case = town(areas, hoods, seed, crews=crews)
    played = replace(odds, crews=(float(crews),) * 10)
    return timed(lambda: (draw(case), forecast(played)))[1]


def _forecast_case() -> ForecastCase:
    years = tuple(range(1, 11))
    groups = tuple(
        ForecastGroup(year, f"H{hood}", 40, 20 if year <= 3 else 0, (0.2, 0.4, 0.6))
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
