"""What a plan is asked for: crews, money, sizes, weights, windows; checked before any work."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields
from math import isfinite

from program.planning.defaults import default


class PlanError(Exception):
    """The plan cannot be drawn, changed or adopted; the message says what to change."""


@dataclass(frozen=True)
class PlanAsked:
    """The settings of one plan, as kept with it.

    Parameters
    ----------
    crews : crews in every year; None for the fewest that hold the required rate.
    budget_per_year : US dollars for each program year; None where money sets no limit.
    cost_per_job, cost_per_inspection : US dollars; a starting value of ours until replaced.
    unknown_years : program years within which unknown lines are to be looked at.
    weights : points of each priority factor, by its key; what is left out keeps its default.
    need_index, coordinated_work, lead_results : neighbourhood attributes that hold these figures.
    quotas : least share of each year's jobs, by neighbourhood (0 to 1).
    closed_years : program years without work (moratoria, paving), by neighbourhood.
    frost : first and last day without pulls as (month, day) pairs.
    based_on : a plan whose areas and locked years are kept.
    keep_published : let areas of that plan change their year only for a gain.
    """

    crews: int | None = None
    budget_per_year: float | None = None
    jobs_per_crew_day: float = field(default_factory=lambda: default("jobs_per_crew_day"))
    area_least: int = field(default_factory=lambda: default("area_least_jobs"))
    area_target: int | None = None
    area_most: int | None = None
    cost_per_job: float = 9000.0
    cost_per_inspection: float = 400.0
    unknown_years: int = 3
    weights: dict = field(default_factory=dict)
    need_index: str = "need_index"
    coordinated_work: str = "coordinated_work"
    lead_results: str = "lead_results"
    quotas: dict = field(default_factory=dict)
    closed_years: dict = field(default_factory=dict)
    frost: list | None = None
    consent_lead_days: int = field(default_factory=lambda: default("consent_lead_days"))
    based_on: int | None = None
    keep_published: bool = False
    seed: int = 1
    runs: int = 10_000

    @classmethod
    def of(cls, settings: dict) -> PlanAsked:
        """The settings given, over the defaults.

        Raises
        ------
        PlanError: a setting has no such name, or a value that cannot be.
        """
        known = {one.name for one in fields(cls)}
        if strange := sorted(set(settings) - known):
            raise PlanError(
                f"There is no plan setting {strange[0]!r}; there are {', '.join(sorted(known))}."
            )
        # What is not given keeps its starting value.
        asked = cls(**{name: value for name, value in settings.items() if value is not None})
        if found := asked.problems():
            raise PlanError(" ".join(found))
        return asked

    def kept(self) -> dict:
        """The settings as the plan's row keeps them."""
        return asdict(self)

    def problems(self) -> list[str]:
        """Sentences on values that cannot be, whatever the town looks like."""
        if found := list(self._wrong_numbers()):
            return found
        return [*self._wrong_shapes()]

    def _wrong_numbers(self):
        rows = (
            ("crews", self.crews, 0, 1000, True),
            ("budget_per_year", self.budget_per_year, 0, 1e12, False),
            ("jobs_per_crew_day", self.jobs_per_crew_day, 0.01, 100, False),
            ("area_least", self.area_least, 1, 10_000, True),
            ("area_target", self.area_target, 1, 10_000, True),
            ("area_most", self.area_most, 1, 100_000, True),
            ("cost_per_job", self.cost_per_job, 0, 1e7, False),
            ("cost_per_inspection", self.cost_per_inspection, 0, 1e6, False),
            ("unknown_years", self.unknown_years, 1, 50, True),
            ("consent_lead_days", self.consent_lead_days, 0, 730, True),
            ("runs", self.runs, 100, 100_000, True),
            ("seed", self.seed, 0, 2**31 - 1, True),
        )
        for name, value, low, high, whole in rows:
            if value is None:
                continue
            number = isinstance(value, int | float) and not isinstance(value, bool)
            if not number or not isfinite(value) or (whole and value != int(value)):
                kind = "a whole number" if whole else "a number"
                yield f"{_words(name)} is {value!r}: give {kind}."
            elif not low <= value <= high:
                yield f"{_words(name)} is {value:,g}: give {low:g} to {high:,g}."

    def _wrong_shapes(self):
        for name in ("weights", "quotas", "closed_years"):
            if not isinstance(getattr(self, name), dict):
                yield f"{_words(name)} must be a table of names and values."
                return
        if strange := sorted(set(self.weights) - _factor_keys()):
            yield (
                f"There is no priority factor {strange[0]!r}; there are "
                f"{', '.join(sorted(_factor_keys()))}."
            )
        for name, table in (("weight", self.weights), ("quota", self.quotas)):
            for key, value in table.items():
                if not isinstance(value, int | float) or not isfinite(value) or value < 0:
                    yield f"The {name} of {key} is {value!r}: give a number, zero or more."
        for hood, years in self.closed_years.items():
            if not isinstance(years, list) or not all(isinstance(y, int) for y in years):
                yield f"The closed years of {hood} must be a list of program years, such as [4, 5]."
        if self.frost is not None and not _is_season(self.frost):
            yield (
                "The frost season must be its first and last day, as [[12, 1], [3, 15]] for "
                "1 December to 15 March."
            )


def _factor_keys() -> set[str]:
    return {row["key"] for row in default("priority_factors")}


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _is_season(value) -> bool:
    from datetime import date

    try:
        # A leap year, so that 29 February is a day.
        (m1, d1), (m2, d2) = value
        return bool(date(2028, m1, d1) and date(2028, m2, d2))
    except (TypeError, ValueError):
        return False
