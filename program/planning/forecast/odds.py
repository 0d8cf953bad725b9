"""What the runs say: the fan of rates, the odds at each assessment, and those of finishing."""

from __future__ import annotations

from dataclasses import dataclass, field

from program.planning.forecast.case import ForecastCase
from program.planning.forecast.playing import drawn, played

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True)
class Forecast:
    """Quantiles and probabilities; `fan` has one row of rates by quantile for each of `years`, and
    `replaced_fan` one of the numbers of lines replaced within the year, from the forecast's start.

    `years` end with the last planned one; `complies`, `finished_by` (every agreed line replaced by
    the end of the year) and `short_of_money` (the budget, not the crews, ended the year's work)
    hold the share of runs by program year, and go on to the year by which all is due.
    """

    years: tuple[int, ...]
    quantiles: tuple[float, ...]
    fan: tuple[tuple[float, ...], ...]
    required_rate: float
    complies: dict[int, float]
    complies_throughout: float
    finishes: float
    runs: int
    mean_replaced: tuple[float, ...]
    due_year: int | None = None
    finished_by: dict[int, float] = field(default_factory=dict)
    short_of_money: dict[int, float] = field(default_factory=dict)
    replaced_fan: tuple[tuple[float, ...], ...] = ()

    def sentences(self) -> list[str]:
        """The odds in words, cut off to whole percent so that none looks certain that is not."""
        due = self.years[-1] if self.due_year is None else self.due_year
        told = [
            f"Program year {year}: {cut_off(share)} of {self.runs:,} runs hold an average of "
            f"{self.required_rate:.2%} or have finished."
            for year, share in self.complies.items()
            if year <= self.years[-1]
        ]
        told.append(
            f"All lead and GRR lines whose owner agrees are replaced by the end of program year "
            f"{due} in {cut_off(self.finishes)} of the runs."
        )
        if worst := max(self.short_of_money.values(), default=0.0):
            year = next(y for y, share in self.short_of_money.items() if share == worst)
            told.append(
                f"The budget, not the crews, ends the year's work most often in program year "
                f"{year}: in {cut_off(worst)} of the runs."
            )
        return told


def cut_off(share: float) -> str:
    """A share of runs in whole percent, never rounded up, and never as certain."""
    per_cent = int(100 * share + 1e-9)
    if per_cent >= 99:
        return "over 99%" if share > 0.99 else "99%"
    return f"{per_cent}%" if per_cent else "under 1%"


def forecast(case: ForecastCase) -> Forecast:
    """Play the program `runs` times and report the fan and the odds.

    Raises
    ------
    BadForecast : no years, no runs, no pool, or a distribution's parameters are not positive.
    """
    import numpy as np

    found = played(case, drawn(case))
    meets, assessed, shown = found.meets(case), case.assessed, case.last_planned + 1
    fan = np.quantile(found.cumulative[:, :shown], QUANTILES, axis=0).T
    replaced = np.quantile(found.replaced[:, :shown], QUANTILES, axis=0).T
    return Forecast(
        case.years[:shown],
        QUANTILES,
        tuple(tuple(float(v) for v in row) for row in fan),
        case.required_rate,
        {case.years[k]: float(meets[:, k].mean()) for k in assessed},
        float(meets[:, assessed].all(axis=1).mean()) if assessed else 1.0,
        float(found.complete[:, case.due].mean()),
        case.runs,
        tuple(float(v) for v in found.replaced.mean(axis=0)),
        case.years[case.due],
        dict(zip(case.years, map(float, found.complete.mean(axis=0)), strict=True)),
        dict(zip(case.years, map(float, found.by_money.mean(axis=0)), strict=True)),
        tuple(tuple(float(v) for v in row) for row in replaced),
    )
