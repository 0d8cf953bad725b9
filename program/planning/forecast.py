"""Will the plan hold: thousands of possible programs, each played through year by year.

What is not known is drawn: the share of lead among unknown lines of each neighbourhood, the share
of owners who refuse, what a crew-day yields, and how many days weather takes. The cumulative
average rate of every run is then compared with the one required.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from program.planning.defaults import default


@dataclass(frozen=True)
class ForecastGroup:
    """What the plan takes on in one neighbourhood in one program year.

    `lead_prior` holds the two parameters of the Beta distribution of the share of lead among the
    neighbourhood's unknown lines: findings and non-findings, smoothed.
    """

    year: int
    neighbourhood: str
    known: int
    unknown: int
    lead_prior: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class Uncertainty:
    """What is drawn, and how widely.

    `refusal_prior` is a Beta distribution of the share refusing; the spreads are standard
    deviations of the logarithm of jobs per crew-day, over the whole program and year by year;
    `season_days_lost` are the least and most working days a year that weather takes.
    """

    refusal_prior: tuple[float, float] = field(default_factory=lambda: _pair("refusal_prior"))
    program_spread: float = field(default_factory=lambda: default("productivity_program_spread"))
    year_spread: float = field(default_factory=lambda: default("productivity_year_spread"))
    season_days_lost: tuple[float, float] = field(default_factory=lambda: _pair("season_days_lost"))
    jobs_per_inspection: float = field(default_factory=lambda: default("jobs_per_inspection"))
    found_lead_per_year: float = 0.0


@dataclass(frozen=True)
class ForecastCase:
    """The plan's work by year, the crews, and what is asked.

    `crews` is the number of crews in each program year of `years`; `crew_days` the working days of
    one crew in a year before weather; `work_ahead` lets crews with time left start later work.
    """

    first_pool: int
    groups: tuple[ForecastGroup, ...]
    years: tuple[int, ...]
    crews: tuple[float, ...]
    crew_days: float
    jobs_per_crew_day: float
    required_rate: float
    first_assessed_year: int
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    runs: int = 10_000
    seed: int = 1
    work_ahead: bool = False


@dataclass(frozen=True)
class Forecast:
    """Quantiles and probabilities; `fan` has one row of rates by quantile for each year."""

    years: tuple[int, ...]
    quantiles: tuple[float, ...]
    fan: tuple[tuple[float, ...], ...]
    required_rate: float
    complies: dict[int, float]
    complies_throughout: float
    finishes: float
    runs: int
    mean_replaced: tuple[float, ...]

    def sentences(self) -> list[str]:
        """The odds in plain words, with the number of runs behind them."""
        told = [
            f"In {share:.0%} of {self.runs:,} runs the cumulative average rate is at least "
            f"{self.required_rate:.2%} at the end of program year {year}."
            for year, share in self.complies.items()
        ]
        told.append(
            f"In {self.finishes:.0%} every lead and galvanized-requiring-replacement line whose "
            f"owner agrees is replaced by the end of program year {self.years[-1]}."
        )
        return told


class BadForecast(ValueError):
    """A case that can't be played through; the message says what to change."""


QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)


def forecast(case: ForecastCase) -> Forecast:
    """Play the program `runs` times and report the fan and the odds.

    Raises
    ------
    BadForecast : no years, no runs, no pool, or a distribution's parameters are not positive.
    """
    import numpy as np

    _check(case)
    drawn = _drawn(case)
    rates, replaced, finished = _played(case, drawn)
    cumulative = np.cumsum(rates, axis=1) / np.arange(1, rates.shape[1] + 1)
    # A rate that meets the limit exactly must not fail by the last bit of a float.
    meets = cumulative >= case.required_rate - 1e-12
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


@dataclass(frozen=True)
class CrewsNeeded:
    """Fewest crews in every year that reach the probability; None where no number does."""

    crews: int | None
    probability: float
    tried: dict[int, float]
    sentence: str


def crews_needed(case: ForecastCase, probability: float = 0.9, most: int = 60) -> CrewsNeeded:
    """Fewest crews for compliance at every assessment and a finish in time, with one set of draws.

    Crews with time left may start next year's work, since that is what further crews are for.
    """
    _check(case)
    drawn, tried = _drawn(case), {}

    def odds(crews: int) -> float:
        if crews not in tried:
            trial = replace(case, crews=(float(crews),) * len(case.years), work_ahead=True)
            tried[crews] = _success(trial, drawn)
        return tried[crews]

    if odds(most) < probability:
        return CrewsNeeded(
            None,
            odds(most),
            tried,
            f"No number of crews up to {most} reaches {probability:.0%}: at best "
            f"{odds(most):.0%}. What holds the program back is not crews: too little work is "
            "planned for the pool, too many owners refuse, or unknown lines are left for too late.",
        )
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if odds(middle) >= probability else (middle, high)
    return CrewsNeeded(
        high,
        odds(high),
        tried,
        f"{high} crews in every year reach {odds(high):.0%}; {high - 1} reach {odds(high - 1):.0%}."
        if high > 1
        else f"1 crew reaches {odds(1):.0%}.",
    )


def _success(case: ForecastCase, drawn) -> float:
    import numpy as np

    rates, _, finished = _played(case, drawn)
    cumulative = np.cumsum(rates, axis=1) / np.arange(1, rates.shape[1] + 1)
    assessed = [k for k, year in enumerate(case.years) if year >= case.first_assessed_year]
    meets = (cumulative[:, assessed] >= case.required_rate - 1e-12).all(axis=1)
    return float((meets & finished).mean())


def _drawn(case: ForecastCase):
    """Everything random, drawn once: lead found, jobs agreed and days' yield, by run and year."""
    import numpy as np

    rng = np.random.default_rng(case.seed)
    runs, unsure = case.runs, case.uncertainty
    place = {year: k for k, year in enumerate(case.years)}
    shape = runs, len(case.years)
    agreed, found = np.zeros(shape), np.zeros(shape)
    unknown, cleared = np.zeros(len(case.years)), np.zeros(shape)
    refuse = _beta(rng, unsure.refusal_prior, runs)
    shares = {}
    for group in sorted(case.groups, key=lambda g: (g.neighbourhood, g.year)):
        k = place[group.year]
        if group.neighbourhood not in shares:
            shares[group.neighbourhood] = _beta(rng, group.lead_prior, runs)
        lead = rng.binomial(group.unknown, shares[group.neighbourhood])
        due = group.known + lead
        agreed[:, k] += due - rng.binomial(due, refuse)
        found[:, k] += lead
        unknown[k] += group.unknown
        cleared[:, k] += group.unknown - lead
    late = rng.poisson(unsure.found_lead_per_year, shape)
    late_agreed = late - rng.binomial(late, refuse[:, None])
    spread = np.exp(
        rng.normal(0, unsure.program_spread, (runs, 1)) + rng.normal(0, unsure.year_spread, shape)
    )
    lost = rng.uniform(*unsure.season_days_lost, shape)
    days = np.maximum(0.0, case.crew_days - lost) * spread * case.jobs_per_crew_day
    return agreed, cleared, unknown, late, late_agreed, days


def _beta(rng, prior, runs):
    import numpy as np

    a, b = prior
    # A share that is known exactly is written (0, x) or (x, 0).
    if a == 0:
        return np.zeros(runs)
    if b == 0:
        return np.ones(runs)
    return rng.beta(a, b, runs)


def _played(case: ForecastCase, drawn):
    import numpy as np

    agreed, cleared, unknown, late, late_agreed, days = drawn
    runs, years = agreed.shape
    rates, replaced = np.zeros((runs, years)), np.zeros((runs, years))
    pool = np.full(runs, float(case.first_pool))
    waiting = np.zeros(runs)
    for k in range(years):
        waiting += agreed[:, k]
        spent = unknown[k] * case.uncertainty.jobs_per_inspection
        yielded = np.floor(np.maximum(0.0, case.crews[k] * days[:, k] - spent))
        # Work done ahead of its year leaves a negative number waiting.
        done = np.minimum(np.maximum(waiting, 0.0), yielded)
        waiting = waiting - done
        if case.work_ahead and k + 1 < years:
            ahead = _ahead(agreed, k, yielded - done, waiting)
            done, waiting = done + ahead, waiting - ahead
        rates[:, k] = np.divide(done, pool, out=np.zeros(runs), where=pool > 0)
        replaced[:, k] = done
        pool = pool - cleared[:, k] + late[:, k]
        if k + 1 < years:
            waiting = waiting + late_agreed[:, k]
    return rates, replaced, waiting <= 0


def _ahead(agreed, k: int, spare, waiting):
    """Jobs of later years done with the time left, counted against those years' demand."""
    import numpy as np

    later = agreed[:, k + 1 :].sum(axis=1) + np.minimum(waiting, 0)
    return np.minimum(spare, np.maximum(later, 0))


def _check(case: ForecastCase) -> None:
    if not case.years or len(case.crews) != len(case.years):
        raise BadForecast("Give a number of crews for every program year of the forecast.")
    if case.first_pool <= 0:
        raise BadForecast("The replacement pool is empty: there is nothing to forecast.")
    if case.runs < 1:
        raise BadForecast("The number of runs must be one or more.")
    if strange := {group.year for group in case.groups} - set(case.years):
        raise BadForecast(f"Work is planned in program year {min(strange)}, which is not forecast.")
    priors = [case.uncertainty.refusal_prior, *(group.lead_prior for group in case.groups)]
    if any(a < 0 or b < 0 or a + b <= 0 for a, b in priors):
        raise BadForecast("The parameters of a Beta distribution must be zero or more, not both 0.")
    if any(group.known < 0 or group.unknown < 0 for group in case.groups):
        raise BadForecast("A neighbourhood can't have fewer than zero lines in a year.")


def _pair(key: str) -> tuple[float, float]:
    low, high = default(key)
    return float(low), float(high)
