"""What a forecast is made from: the plan's work by year, the crews, the money, what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import isfinite
from typing import TYPE_CHECKING

from program.planning.defaults import default

if TYPE_CHECKING:
    import numpy as np


# Where no line was ever verified, every share of lead is as likely as any other.
ANY_SHARE = tuple((k + 0.5) / 100 for k in range(100))


@dataclass(frozen=True)
class ForecastGroup:
    """What the plan takes on in one neighborhood in one program year.

    `lead_shares` holds draws of the share of lead among the neighborhood's unknown lines; those at
    one place of all neighborhoods may be true together, and one run plays with them.
    """

    year: int
    neighborhood: str
    known: int
    unknown: int
    lead_shares: Sequence[float] | np.ndarray = ANY_SHARE


@dataclass(frozen=True)
class Uncertainty:
    """What is drawn, and how widely.

    `refusal_prior` is a Beta distribution of the share refusing; the productivity spreads are
    standard deviations of the logarithm of jobs per crew-day, over the whole program, year by year,
    from crew to crew (`crew_spread`) and from season to season (`season_spread`); `cost_spread` is
    that of the cost of a job, `season_days_lost` are the least and most working days a year that
    weather takes.
    """

    refusal_prior: tuple[float, float] = field(default_factory=lambda: _pair("refusal_prior"))
    program_spread: float = field(default_factory=lambda: default("productivity_program_spread"))
    year_spread: float = field(default_factory=lambda: default("productivity_year_spread"))
    season_days_lost: tuple[float, float] = field(default_factory=lambda: _pair("season_days_lost"))
    jobs_per_inspection: float = field(default_factory=lambda: default("jobs_per_inspection"))
    found_lead_per_year: float = 0.0
    cost_spread: float = field(default_factory=lambda: default("cost_program_spread"))
    crew_spread: float = 0.0
    season_spread: float = 0.0


@dataclass(frozen=True)
class ForecastCase:
    """The plan's work by year, the crews, the money, and what is asked.

    Parameters
    ----------
    first_pool : lines in the replacement pool at the start of the first of `years`.
    crews : number of crews in each program year of `years`.
    crew_days : working days of one crew in a full year, before weather.
    year_parts : part of a full year's working days there is in each year; 1 for all when empty.
    past_rates : annual rates of the program years now over, the first year's first.
    already_replaced : full replacements of the first of `years` done before the forecast starts.
    due_year : program year by whose end every line is to be replaced; the last when left out.
    budgets : US dollars in each year, None for no limit; no limit anywhere when empty. What a year
        leaves over is not carried on.
    work_ahead : crews with time and money left start later work.
    complete_complies : a run in which every line whose owner agrees is replaced complies from then
        on, whatever its average.
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
    year_parts: tuple[float, ...] = ()
    past_rates: tuple[Fraction, ...] = ()
    already_replaced: int = 0
    due_year: int | None = None
    budgets: tuple[float | None, ...] = ()
    cost_per_job: float = 0.0
    cost_per_inspection: float = 0.0
    complete_complies: bool = False

    @property
    def parts(self) -> tuple[float, ...]:
        """Part of a full year's working days in each year."""
        return self.year_parts or (1.0,) * len(self.years)

    @property
    def assessed(self) -> list[int]:
        """Places among `years` of those at whose end the average is assessed."""
        return [k for k, year in enumerate(self.years) if year >= self.first_assessed_year]

    @property
    def due(self) -> int:
        """Place among `years` of the one by whose end all is to be done."""
        return len(self.years) - 1 if self.due_year is None else self.years.index(self.due_year)

    @property
    def last_planned(self) -> int:
        """Place among `years` of the last one with planned work; the last where none has any."""
        planned = [group.year for group in self.groups if group.known or group.unknown]
        return self.years.index(max(planned)) if planned else len(self.years) - 1

    def problem(self) -> str:
        """What is wrong with the case as a sentence; empty when it can be played."""
        return next((sentence for wrong, sentence in self._faults() if wrong), "")

    def _faults(self):
        """(whether it is wrong, sentence) pairs, in the order in which they make sense."""
        count = len(self.years)
        yield (
            not self.years or len(self.crews) != count,
            "Give a number of crews for every program year of the forecast.",
        )
        yield (
            list(self.years) != list(range(self.years[0], self.years[0] + count)),
            "The program years of a forecast must follow each other: give each once, in order.",
        )
        yield (
            len(self.parts) != count or (self.budgets and len(self.budgets) != count),
            "Give a part of the year and a budget for every program year of the forecast.",
        )
        yield self.first_pool <= 0, "The replacement pool is empty: there is nothing to forecast."
        yield self.runs < 1, "The number of runs must be one or more."
        yield (
            len(self.past_rates) != self.years[0] - 1,
            f"The forecast starts in program year {self.years[0]}, but {len(self.past_rates)} past "
            f"annual rates are given: give one for each of the {self.years[0] - 1} years before.",
        )
        yield (
            self.due_year is not None and self.due_year not in self.years,
            f"Every line is due by program year {self.due_year}, which is not forecast.",
        )
        strange = {group.year for group in self.groups} - set(self.years)
        yield (
            bool(strange),
            f"Work is planned in program year {min(strange, default=0)}, which is not forecast.",
        )
        yield from self._amounts()

    def _amounts(self):
        a, b = self.uncertainty.refusal_prior
        yield (
            a < 0 or b < 0 or a + b <= 0,
            "The parameters of a Beta distribution must be zero or more, not both 0.",
        )
        yield (
            any(not _all_shares(group.lead_shares) for group in self.groups),
            "A neighborhood's shares of lead must be one or more numbers from 0 to 1.",
        )
        yield (
            any(group.known < 0 or group.unknown < 0 for group in self.groups),
            "A neighborhood can't have fewer than zero lines in a year.",
        )
        money = [self.cost_per_job, self.cost_per_inspection]
        money += [budget for budget in self.budgets if budget is not None]
        yield (
            not all(isfinite(value) and value >= 0 for value in money),
            "Costs and budgets of the forecast must be numbers, zero or more.",
        )


class BadForecast(ValueError):
    """A case that can't be played through; the message says what to change."""


def _all_shares(values) -> bool:
    return len(values) > 0 and 0 <= min(values) and max(values) <= 1


def _pair(key: str) -> tuple[float, float]:
    low, high = default(key)
    return float(low), float(high)
