"""What a plan is asked for: crews, money, sizes, weights, windows; checked before any work."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields, replace

from program.planning.defaults import default
from program.queries.planning.setting_forms import problems
from services_inventory.refused import Refused


class PlanError(Refused):
    """The plan cannot be drawn, changed or adopted; the message says what to change."""


@dataclass(frozen=True)
class PlanAsked:
    """The settings of one plan, as kept with it.

    A place is a neighborhood, a street, or a work area of the plan it is based on, by name;
    several joined by " + " count as one.

    Parameters
    ----------
    crews : crews in every year; None for the fewest that hold the required rate.
    crews_by_year : crews of single program years, which go before `crews`.
    seasons : parts of every year, each with name, first and last day as [month, day], and the most
        crews at work in it (None for all of the year's).
    budget_per_year : US dollars for each program year; None where money sets no limit.
    budget_by_year : US dollars of single program years, which go before `budget_per_year`.
    funding : money by source, each with source, kind (GRANT, LOAN, RATES), years, dollars in each,
        places (neighborhoods; empty for anywhere) and condition; a year named has their sum, unless
        `budget_by_year` names it.
    ramp_up_days : working days on which a crew that is new in a year does half of its jobs.
    day_hours : hours of a working day; `jobs_per_crew_day` are those of eight.
    restoration_days : working days on which a crew restores the ground, for ten of replacing.
    cost_per_job, cost_per_inspection : US dollars; a starting value of ours until replaced.
    unknown_years : program years within which unknown lines are to be looked at.
    weights : points of each priority factor, by its key; what is left out keeps its default.
    normalizations : how a factor's figures become 0 to 1, by its key; see Normalization.
    need_index, coordinated_work, lead_results, median_income, old_housing, children : neighborhood
        attributes that hold these figures.
    policy : the order in the manager's own words, shown beside who waits how long.
    figures : the same figures given with the plan, by neighborhood and by these names; they go
        before the attributes.
    quotas : least share of each year's jobs (0 to 1), by place, or a table of `share`, `years`.
    closed_years : program years without work (moratoria, paving), by place.
    windows : closures and windows, each with place and kind: CLOSED or ONLY with `first` and `last`
        day (YYYY-MM-DD), or SEASONS with the names of the `seasons` in which work may be done.
    frost : first and last day without pulls as (month, day) pairs.
    weekdays : days of the week on which lines are replaced, from Monday as 0.
    days_off : first and last day (YYYY-MM-DD) of each span on which no crew works, besides federal
        holidays.
    based_on : a plan whose areas and locked years are kept.
    unlocked : areas of that plan, by name, whose locked year is not kept.
    keep_published : let areas of that plan change their year only for a gain.
    """

    crews: int | None = None
    crews_by_year: dict = field(default_factory=dict)
    seasons: list = field(default_factory=list)
    budget_per_year: float | None = None
    budget_by_year: dict = field(default_factory=dict)
    funding: list = field(default_factory=list)
    ramp_up_days: int = 0
    jobs_per_crew_day: float = field(default_factory=lambda: default("jobs_per_crew_day"))
    day_hours: float = field(default_factory=lambda: default("day_hours"))
    restoration_days: float = 0
    area_least: int = field(default_factory=lambda: default("area_least_jobs"))
    area_target: int | None = None
    area_most: int | None = None
    cost_per_job: float = 9000.0
    cost_per_inspection: float = 400.0
    unknown_years: int = 3
    weights: dict = field(default_factory=dict)
    normalizations: dict = field(default_factory=dict)
    need_index: str = "need_index"
    coordinated_work: str = "coordinated_work"
    lead_results: str = "lead_results"
    median_income: str = "median_income"
    old_housing: str = "old_housing"
    children: str = "children"
    policy: str = ""
    figures: dict = field(default_factory=dict)
    quotas: dict = field(default_factory=dict)
    closed_years: dict = field(default_factory=dict)
    windows: list = field(default_factory=list)
    frost: list | None = None
    weekdays: list = field(default_factory=lambda: list(default("production_weekdays")))
    consent_lead_days: int = field(default_factory=lambda: default("consent_lead_days"))
    days_off: list = field(default_factory=list)
    based_on: int | None = None
    keep_published: bool = False
    unlocked: list = field(default_factory=list)
    seed: int = 1
    runs: int = 10_000

    @classmethod
    def of(cls, settings: dict) -> PlanAsked:
        """The settings given, over the starting values of those that are not.

        Raises
        ------
        PlanError: a setting has no such name, or a value that cannot be.
        """
        known = {one.name for one in fields(cls)}
        if strange := sorted(set(settings) - known):
            raise PlanError(
                f"There is no plan setting {strange[0]!r}; there are {', '.join(sorted(known))}."
            )
        asked = cls.again(settings)
        if found := problems(asked):
            raise PlanError(" ".join(found))
        return asked

    @classmethod
    def again(cls, settings: dict) -> PlanAsked:
        """The settings that a plan keeps, which were checked when it was drawn."""
        return cls(**{name: value for name, value in settings.items() if value is not None})

    def kept(self) -> dict:
        """The settings as the plan's row keeps them."""
        return asdict(self)

    def crews_in(self, year: int) -> int | None:
        """Crews asked for in one program year; None where the fewest that suffice are wanted."""
        return self.crews_by_year.get(str(year), self.crews)

    @property
    def jobs_replacing(self) -> float:
        """Jobs that a crew does on a working day on which it replaces lines."""
        return self.jobs_per_crew_day * self.day_hours / default("day_hours")

    @property
    def jobs_a_day(self) -> float:
        """Jobs that a crew does on the average working day, those of restoring among them."""
        return self.jobs_replacing / (1 + self.restoration_days / 10)

    def staffed(self, crews: dict[int, int]) -> PlanAsked:
        """The same with the crews that each year was given, chosen or asked for."""
        given = {str(year): number for year, number in crews.items()}
        return replace(self, crews_by_year={**self.crews_by_year, **given})

    def new_crews_in(self, year: int, crews: int) -> int:
        """Of a year's crews those that the year before didn't have, as far as it is given."""
        before = self.crews_in(year - 1)
        return 0 if before is None else max(0, crews - before)

    def budget_in(self, year: int) -> float | None:
        """US dollars of one program year; None where money sets no limit."""
        sources = [row["dollars"] for row in self.funding if year in row["years"]]
        return self.budget_by_year.get(str(year), sum(sources) if sources else self.budget_per_year)
