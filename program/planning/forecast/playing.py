"""The runs: everything random drawn once, then every program played through year by year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from zlib import crc32

from program.planning.forecast.case import BadForecast, ForecastCase, ForecastGroup

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Drawn:
    """What was drawn, as arrays by run and year (`unknown` by year, `cost` by run).

    `agreed` counts planned jobs whose owner agrees, `cleared` unknown lines found non-lead, `late`
    lines found to be lead that nobody had planned for and `late_agreed` those of them agreed to;
    `days` holds the jobs one crew can do, `cost` the factor on the cost of a job.
    """

    agreed: np.ndarray
    cleared: np.ndarray
    unknown: np.ndarray
    late: np.ndarray
    late_agreed: np.ndarray
    days: np.ndarray
    cost: np.ndarray


@dataclass(frozen=True)
class Played:
    """What came of the runs, as arrays by run and year.

    `cumulative` is the average of all annual rates so far, `complete` whether no agreed line is
    left, `by_money` whether the budget and not the crews ended the year's work.
    """

    cumulative: np.ndarray
    replaced: np.ndarray
    complete: np.ndarray
    by_money: np.ndarray

    def meets(self, case: ForecastCase):
        """Whether each run holds the required rate at the end of each year."""
        # A rate that meets the limit exactly must not fail by the last bit of a float.
        held = self.cumulative >= case.required_rate - 1e-12
        return held | self.complete if case.complete_complies else held


def drawn(case: ForecastCase) -> Drawn:
    """Draw everything random once, so that several numbers of crews can be tried on the same luck.

    Each thing has a stream of its own, each neighborhood among them, and its lines are drawn for
    all years together: a case that differs in one of them meets the same luck in all others.

    Raises
    ------
    BadForecast : the case can't be played through; the sentence says what to change.
    """
    import numpy as np

    if problem := case.problem():
        raise BadForecast(problem)
    runs, unsure = case.runs, case.uncertainty
    shape = runs, len(case.years)
    refuse = _beta(_stream(case, "refusals"), unsure.refusal_prior, runs)
    agreed, cleared, unknown = _lines_drawn(case, refuse)
    found = _stream(case, "lead found")
    late = found.poisson(unsure.found_lead_per_year, shape)
    late_agreed = late - found.binomial(late, refuse[:, None])
    # Of more crews the mean varies less; the four seasons of a year are drawn one by one.
    crews, rng = np.maximum(1.0, np.array(case.crews)) ** -0.5, _stream(case, "production")
    spread = np.exp(
        rng.normal(0, unsure.program_spread, (runs, 1))
        + rng.normal(0, unsure.year_spread, shape)
        + rng.normal(0, unsure.crew_spread, (runs, 1)) * crews
        + rng.normal(0, unsure.season_spread, (4, *shape)).mean(axis=0)
    )
    lost = _stream(case, "weather").uniform(*unsure.season_days_lost, shape)
    days = np.maximum(0.0, case.crew_days - lost) * spread * case.jobs_per_crew_day
    cost = np.exp(_stream(case, "cost").normal(0, unsure.cost_spread, runs))
    return Drawn(agreed, cleared, unknown, late, late_agreed, days * np.array(case.parts), cost)


def _stream(case: ForecastCase, of: str) -> np.random.Generator:
    import numpy as np

    return np.random.default_rng([case.seed, crc32(of.encode())])


def _lines_drawn(case: ForecastCase, refuse):
    import numpy as np

    shape = case.runs, len(case.years)
    agreed, cleared, unknown = np.zeros(shape), np.zeros(shape), np.zeros(len(case.years))
    place = {year: k for k, year in enumerate(case.years)}
    # One place in all neighborhoods: what is not known of the town is drawn once a run.
    pick = _stream(case, "shares").integers(0, 2**40, case.runs)
    for name, groups in _by_shares(case).items():
        rng, shares = _stream(case, f"lines {name}"), np.asarray(groups[0].lead_shares)
        looked = [group.unknown for group in groups]
        lead = rng.binomial(sum(looked), shares[pick % len(shares)])
        # Totals first: they are then the same, whatever year each line is dealt to.
        no = rng.binomial(sum(group.known for group in groups) + lead, refuse)
        found = _dealt(rng, lead, looked)
        due = [group.known + part for group, part in zip(groups, found, strict=True)]
        refused = _dealt(rng, no, due)
        for group, part, jobs, out in zip(groups, found, due, refused, strict=True):
            k = place[group.year]
            agreed[:, k] += jobs - out
            unknown[k] += group.unknown
            cleared[:, k] += group.unknown - part
    return agreed, cleared, unknown


def _by_shares(case: ForecastCase) -> dict[str, list[ForecastGroup]]:
    """Return each neighborhood's groups by year; groups with other shares of lead stand apart."""
    found: dict[str, list[ForecastGroup]] = {}
    names: dict[tuple[str, int], str] = {}
    for group in sorted(case.groups, key=lambda g: (g.neighborhood, g.year)):
        others = sum(hood == group.neighborhood for hood, _ in names)
        key = group.neighborhood, id(group.lead_shares)
        name = names.setdefault(key, f"{group.neighborhood} {others}" if others else key[0])
        found.setdefault(name, []).append(group)
    return found


def _dealt(rng, marked, sizes):
    """Deal marked lines to parts of the sizes given, each line as likely as any other."""
    left, parts = sum(sizes), []
    for size in sizes[:-1]:
        part = rng.hypergeometric(marked, left - marked, size)
        parts.append(part)
        marked, left = marked - part, left - size
    return [*parts, marked]


def _beta(rng, prior, runs):
    import numpy as np

    a, b = prior
    # A share that is known exactly is written (0, x) or (x, 0).
    if a == 0:
        return np.zeros(runs)
    if b == 0:
        return np.ones(runs)
    return rng.beta(a, b, runs)


def played(case: ForecastCase, luck: Drawn) -> Played:
    """Play every run through all years, from what the program has done already."""
    import numpy as np

    runs, years = luck.agreed.shape
    rates, replaced = np.zeros((runs, years)), np.zeros((runs, years))
    by_money = np.zeros((runs, years), dtype=bool)
    pool, waiting = np.full(runs, float(case.first_pool)), np.zeros(runs)
    for k in range(years):
        waiting = waiting + luck.agreed[:, k]
        crews, money = _crew_limit(case, luck, k), _money_limit(case, luck, k)
        limit = np.minimum(crews, money)
        # Work done ahead of its year leaves a negative number waiting.
        done = np.minimum(np.maximum(waiting, 0.0), limit)
        by_money[:, k] = (money < crews) & (waiting > limit)
        waiting = waiting - done
        if case.work_ahead and k + 1 < years:
            ahead = _ahead(luck.agreed, k, limit - done, waiting)
            done, waiting = done + ahead, waiting - ahead
        rates[:, k] = np.divide(done, pool, out=np.zeros(runs), where=pool > 0)
        replaced[:, k] = done
        pool = pool - luck.cleared[:, k] + luck.late[:, k]
        if k + 1 < years:
            waiting = waiting + luck.late_agreed[:, k]
    return Played(_averages(case, rates), replaced, _complete(luck, replaced), by_money)


def _crew_limit(case: ForecastCase, luck: Drawn, k: int):
    """Jobs that the crews can do in the k-th year, after their inspections."""
    import numpy as np

    spent = luck.unknown[k] * case.uncertainty.jobs_per_inspection
    return np.floor(np.maximum(0.0, case.crews[k] * luck.days[:, k] - spent))


def _money_limit(case: ForecastCase, luck: Drawn, k: int):
    """Jobs that the k-th year's budget pays for, after its inspections."""
    import numpy as np

    budget = case.budgets[k] if case.budgets else None
    if budget is None or case.cost_per_job <= 0:
        return np.full(case.runs, np.inf)
    left = max(0.0, budget - luck.unknown[k] * case.cost_per_inspection)
    return np.floor(left / (case.cost_per_job * luck.cost) + 1e-9)


def _ahead(agreed, k: int, spare, waiting):
    """Jobs of later years done with the time left, counted against those years' demand."""
    import numpy as np

    later = agreed[:, k + 1 :].sum(axis=1) + np.minimum(waiting, 0)
    return np.minimum(spare, np.maximum(later, 0))


def _averages(case: ForecastCase, rates):
    """The mean of the annual rates of all years so far, those before the forecast included."""
    import numpy as np

    rates[:, 0] += case.already_replaced / case.first_pool
    numbers = np.arange(1, rates.shape[1] + 1) + len(case.past_rates)
    return (float(sum(case.past_rates)) + np.cumsum(rates, axis=1)) / numbers


def _complete(luck: Drawn, replaced):
    """Whether, by the end of each year, every line whose owner agrees is replaced."""
    import numpy as np

    late = np.cumsum(luck.late_agreed, axis=1)
    found = np.concatenate([np.zeros_like(late[:, :1]), late[:, :-1]], axis=1)
    return np.cumsum(replaced, axis=1) >= luck.agreed.sum(axis=1)[:, None] + found
