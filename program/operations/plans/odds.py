"""The odds of a plan, with the years that are over: the forecast continued from where one stands.

The runs are those of `program.planning.forecast`. What has been replaced in earlier years, and in
the running one, is added to every run before its average is compared with the required one. A run
in which every line whose owner agrees is replaced has completed the program and complies.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from program.operations.plans.case import Draft, expected_jobs
from program.planning import forecast as played
from program.planning.forecast import QUANTILES, Forecast, ForecastCase, ForecastGroup
from program.planning.solver import Plan


@dataclass(frozen=True)
class Standing:
    """What the years over bring: the sum of their annual rates, and this year's work so far."""

    past: tuple[Fraction, ...]
    already: int


def forecast_case(draft: Draft, plan: Plan) -> ForecastCase:
    """The plan's known lines in their areas' years, its unknown ones in their year of inspection.

    Lead found by an inspection is replaced as soon as a crew is free.
    """
    year_of = plan.year_of()
    known: dict[tuple[str, int], int] = {}
    for area in draft.grouping.areas:
        key = area.neighbourhood, year_of[area.id]
        known[key] = known.get(key, 0) + expected_jobs(draft.members(area), draft.unknown)[0]
    looked = _inspections(draft)
    groups = tuple(
        ForecastGroup(
            year,
            hood,
            known.get((hood, year), 0),
            looked.get((hood, year), 0),
            draft.unknown.priors.get(hood, (1.0, 1.0)),
        )
        for hood, year in sorted({*known, *looked})
    )
    years = draft.horizon.years
    full = max(1, draft.horizon.full_year_days)
    # The horizon's days are after the weather's; the forecast draws the weather itself.
    low, high = played.Uncertainty().season_days_lost
    return ForecastCase(
        first_pool=years[0].pool,
        groups=groups,
        years=tuple(year.year for year in years),
        crews=tuple(draft.crews * year.work_days / full for year in years),
        crew_days=full + (low + high) / 2,
        jobs_per_crew_day=draft.asked.jobs_per_crew_day,
        required_rate=float(draft.horizon.deadline.rate),
        first_assessed_year=draft.horizon.first_assessed_year,
        runs=draft.asked.runs,
        seed=draft.asked.seed,
    )


def _inspections(draft: Draft) -> dict[tuple[str, int], int]:
    """Unknown lines by neighbourhood and year of inspection, the highest score first."""
    waiting = []
    for area in draft.grouping.areas:
        points = draft.places[area.neighbourhood].score.points
        count = sum(line.category == "UNKNOWN" for line in draft.members(area))
        waiting.append((-points, area.neighbourhood, area.id, count))
    hoods = [hood for _, hood, _, count in sorted(waiting) for _ in range(count)]
    looked: dict[tuple[str, int], int] = {}
    start = 0
    for year in draft.horizon.years:
        for hood in hoods[start : start + year.unknown]:
            looked[hood, year.year] = looked.get((hood, year.year), 0) + 1
        start += year.unknown
    return looked


def standing_of(draft: Draft) -> Standing:
    """What the rates of the years over and of the running one rest on."""
    return Standing(draft.horizon.past_rates, draft.horizon.years[0].already_replaced)


def forecast_from(case: ForecastCase, standing: Standing) -> Forecast:
    """Play the program from where it stands and report the fan and the odds.

    Raises
    ------
    BadForecast: the case has no years, no runs or no pool.
    """
    import numpy as np

    played._check(case)
    drawn = played._drawn(case)
    cumulative, meets, replaced, finished = _outcome(case, drawn, standing)
    assessed = [k for k, year in enumerate(case.years) if year >= case.first_assessed_year]
    fan = np.quantile(cumulative, QUANTILES, axis=0).T
    return Forecast(
        case.years,
        QUANTILES,
        tuple(tuple(float(v) for v in row) for row in fan),
        case.required_rate,
        {case.years[k]: float(meets[:, k].mean()) for k in assessed},
        float(meets[:, assessed].all(axis=1).mean()) if assessed else 1.0,
        float(finished.mean()),
        case.runs,
        tuple(float(v) for v in replaced.mean(axis=0)),
    )


def _outcome(case: ForecastCase, drawn, standing: Standing):
    import numpy as np

    rates, replaced, finished = played._played(case, drawn)
    rates[:, 0] += standing.already / case.first_pool
    past = float(sum(standing.past))
    numbers = np.arange(1, rates.shape[1] + 1) + len(standing.past)
    cumulative = (past + np.cumsum(rates, axis=1)) / numbers
    agreed, late_agreed = drawn[0], drawn[4]
    due = agreed.sum(axis=1) + late_agreed[:, :-1].sum(axis=1)
    complete = np.cumsum(replaced, axis=1) >= due[:, None]
    return cumulative, (cumulative >= case.required_rate - 1e-12) | complete, replaced, finished


def sentences(found: Forecast) -> list[str]:
    """The odds in words, cut off to whole per cent so that none looks certain that is not."""
    told = [
        f"Program year {year}: {cut_off(share)} of {found.runs:,} runs hold an average of "
        f"{found.required_rate:.2%} or have finished."
        for year, share in found.complies.items()
    ]
    told.append(
        f"{cut_off(found.finishes)} have replaced every lead and GRR line whose owner agrees by "
        f"the end of program year {found.years[-1]}."
    )
    return told


def cut_off(share: float) -> str:
    """A share in whole per cent, never rounded up."""
    return f"{int(100 * share + 1e-9)} %"


def crews_for_odds(
    case: ForecastCase, standing: Standing, crews: int, probability: float = 0.9, most: int = 60
) -> str:
    """A sentence on the fewest crews that comply throughout and finish in time so likely.

    Parameters
    ----------
    crews : the crews that the case's numbers of crews stand for
    """
    drawn, tried = played._drawn(case), {}
    assessed = [k for k, year in enumerate(case.years) if year >= case.first_assessed_year]

    def odds(number: int) -> float:
        if number not in tried:
            each = tuple(share * number / crews for share in case.crews)
            trial = replace(case, crews=each, work_ahead=True)
            _, meets, _, finished = _outcome(trial, drawn, standing)
            tried[number] = float((meets[:, assessed].all(axis=1) & finished).mean())
        return tried[number]

    if odds(most) < probability:
        return (
            f"No number of crews up to {most} reaches {cut_off(probability)}: at best "
            f"{cut_off(odds(most))}. "
            "What holds the program back is not crews: too many owners refuse, or too little lead "
            "is left for the pool."
        )
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if odds(middle) >= probability else (middle, high)
    fewer = f"; {high - 1} reach {cut_off(odds(high - 1))}" if high > 1 else ""
    word = "crew reaches" if high == 1 else "crews reach"
    return (
        f"{high} {word} {cut_off(odds(high))}{fewer}, where crews with time left start later work."
    )
