"""A drawn plan as the forecast plays it, continued from where the program stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from django.db.models import Avg

from program.models import PoolFreeze
from program.operations.plans.capacity import mean_crews
from program.operations.plans.case import Draft, expected_jobs
from program.planning.defaults import default
from program.planning.forecast import (
    ANY_SHARE,
    Forecast,
    ForecastCase,
    ForecastGroup,
    Uncertainty,
    forecast,
)
from program.planning.funding import Source, paid_by
from program.planning.solver import Plan, PlanYear


def played_forecast(draft: Draft, plan: Plan) -> Forecast | None:
    """The odds of a plan; None while too much of the pool is in no area for them to mean anything.

    Raises
    ------
    BadForecast: the plan can't be played through.
    """
    return forecast(forecast_case(draft, plan)) if draft.verdict else None


def forecast_case(draft: Draft, plan: Plan) -> ForecastCase:
    """The plan's known lines in their areas' years, its unknown ones in their year of inspection.

    Lead found by an inspection is replaced as soon as a crew is free. The years after the last one
    planned, up to the deadline, are there for what is late. A program that has replaced every line
    whose owner agrees is complete and complies.
    """
    years = (*draft.horizon.years, *draft.horizon.later)
    full = max(1, draft.horizon.full_year_days)
    # The horizon's days are after the weather's; the forecast draws the weather itself.
    unsure, idle = _from_the_record(draft), bound_unspent(draft.case.years, draft, plan)
    low, high = unsure.season_days_lost
    return ForecastCase(
        first_pool=years[0].pool,
        groups=_groups(draft, plan),
        years=tuple(year.year for year in years),
        crews=tuple(mean_crews(year, draft.staffed, draft.crews[year.year]) for year in years),
        crew_days=full + (low + high) / 2,
        jobs_per_crew_day=draft.asked.jobs_a_day,
        required_rate=float(draft.horizon.deadline.rate),
        first_assessed_year=draft.horizon.first_assessed_year,
        uncertainty=unsure,
        runs=draft.asked.runs,
        seed=draft.asked.seed,
        year_parts=tuple(year.work_days / full for year in years),
        past_rates=draft.horizon.past_rates,
        already_replaced=years[0].already_replaced,
        due_year=years[-1].year,
        budgets=tuple(
            None if money is None else money - idle.get(year.year, 0.0)
            for year in years
            for money in (draft.asked.budget_in(year.year),)
        ),
        cost_per_job=draft.asked.cost_per_job,
        cost_per_inspection=draft.asked.cost_per_inspection,
        complete_complies=True,
    )


def bound_unspent(years: Iterable[PlanYear], draft: Draft, plan: Plan) -> dict[int, float]:
    """Dollars of each year's money bound to places that a plan's work there leaves over."""
    year_of, costs = plan.year_of(), dict[tuple[int, str], float]()
    for area in draft.case.areas:
        key = year_of.get(area.id, 0), area.neighborhood
        costs[key] = costs.get(key, 0.0) + area.cost
    found = {}
    for year in years:
        own = {hood: cost for (number, hood), cost in costs.items() if number == year.year}
        sources = [Source("", "GRANT", one.dollars, tuple(one.neighborhoods)) for one in year.bound]
        found[year.year] = sum(one.left for one in paid_by(own, sources)[0]) if sources else 0.0
    return found


def _from_the_record(draft: Draft) -> Uncertainty:
    """Refusals as owners of open lines answered, and lead found in the pools frozen so far."""
    said = Counter(draft.record.said.get(line.pk) for line in draft.lines.values())
    refuse, agree = Uncertainty().refusal_prior
    found = PoolFreeze.objects.filter(program_year__gt=1).aggregate(mean=Avg("added"))["mean"]
    return Uncertainty(
        refusal_prior=(refuse + said["REFUSED"] + said["REVOKED"], agree + said["GIVEN"]),
        found_lead_per_year=found or 0.0,
        crew_spread=default("productivity_crew_spread"),
        season_spread=default("productivity_season_spread"),
    )


def _groups(draft: Draft, plan: Plan) -> tuple[ForecastGroup, ...]:
    year_of = plan.year_of()
    known: dict[tuple[str, int], int] = {}
    for area in draft.grouping.areas:
        key = area.neighborhood, year_of[area.id]
        known[key] = known.get(key, 0) + expected_jobs(draft.members(area), draft.unknown)[0]
    looked = _inspections(draft)
    return tuple(
        ForecastGroup(
            year,
            hood,
            known.get((hood, year), 0),
            looked.get((hood, year), 0),
            draft.unknown.shares.get(hood, ANY_SHARE),
        )
        for hood, year in sorted({*known, *looked})
    )


def _inspections(draft: Draft) -> dict[tuple[str, int], int]:
    """Unknown lines by neighborhood and year of inspection, the highest score first."""
    waiting = []
    for area in draft.grouping.areas:
        points = draft.places[area.neighborhood].score.points
        count = sum(line.category == "UNKNOWN" for line in draft.members(area))
        waiting.append((-points, area.neighborhood, area.id, count))
    hoods = [hood for _, hood, _, count in sorted(waiting) for _ in range(count)]
    looked: dict[tuple[str, int], int] = {}
    start = 0
    for year in draft.horizon.years:
        for hood in hoods[start : start + year.unknown]:
            looked[hood, year.year] = looked.get((hood, year.year), 0) + 1
        start += year.unknown
    return looked
