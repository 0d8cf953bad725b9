"""What a year plan is drawn from, and what a drawn plan says.

Years are program years (1, 2, ...). A season is a part of the year with a crew capacity of its own;
an area that names no seasons may be worked in any.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from program.planning.defaults import default


@dataclass(frozen=True)
class PlanArea:
    """One work area as the solver sees it.

    Parameters
    ----------
    jobs : crew jobs in the area, a whole number of one or more.
    cost : US dollars for all of its jobs.
    priority : the risk that stays in the ground for each year the area waits; any unit, not
        negative (a score times the expected lead lines, say).
    replacements : full replacements expected to count in the rate; the jobs when left out.
    quota_group : name of the side of town (or other group) whose share of the work is promised.
    locked_year : the program year chosen by hand.
    allowed_years : program years left open by moratoria and paving windows; None for all.
    earliest_year : first program year by which consents can be in hand.
    seasons : seasons of the year in which the street may be worked; None for all.
    published_year : the year in the published plan.
    """

    id: str
    jobs: int
    cost: float
    priority: float
    neighborhood: str
    replacements: float | None = None
    quota_group: str = ""
    locked_year: int | None = None
    allowed_years: frozenset[int] | None = None
    earliest_year: int | None = None
    seasons: frozenset[str] | None = None
    published_year: int | None = None

    @property
    def counted(self) -> float:
        """Full replacements the area adds to the rate."""
        return self.jobs if self.replacements is None else self.replacements


@dataclass(frozen=True)
class BoundMoney:
    """Dollars of a year's budget that only work in some neighborhoods may be paid from."""

    dollars: float
    neighborhoods: frozenset[str]


@dataclass(frozen=True)
class PlanYear:
    """One program year: pool at its start, budget in US dollars, jobs each crew can do by season.

    `crew_jobs` holds one tuple per crew, in the order of the case's seasons.
    `already_replaced` counts full replacements done in the year outside the areas, `set_aside` the
    part of the budget that is spent on other things than the areas' jobs (inspections), which no
    money of `bound` pays for.
    """

    year: int
    pool: int
    budget: float
    crew_jobs: tuple[tuple[int, ...], ...]
    already_replaced: int = 0
    set_aside: float = 0.0
    bound: tuple[BoundMoney, ...] = ()

    @property
    def free(self) -> float:
        """Dollars of the budget that may go anywhere."""
        return max(0.0, self.budget - sum(one.dollars for one in self.bound))

    @property
    def capacity(self) -> int:
        """Jobs that all crews together can do in the year."""
        return sum(sum(crew) for crew in self.crew_jobs)


@dataclass(frozen=True)
class Quota:
    """A promised least share (0 to 1) of each year's jobs for one group, in the years named.

    The group's areas are those of `area_ids`, or where none are named those of that quota group.
    """

    group: str
    least_share: float
    years: tuple[int, ...]
    area_ids: frozenset[str] = frozenset()

    def holds(self, area: PlanArea) -> bool:
        """Whether an area's jobs count for the group."""
        return area.id in self.area_ids if self.area_ids else area.quota_group == self.group


@dataclass(frozen=True)
class PlanSettings:
    """How the plan is weighed and when the solver may stop.

    `move_weight` is what one more opening of a neighborhood by a crew costs, and `keep_weight`
    what moving a published area must gain, both in years that an average area waits.
    `crew_lending` is the share by which crews may lend each other days within a year.
    `gap` is the proven relative gap at which the solver stops, the node limits are its
    work limits and `seconds_limit` a last resort that a plan stopped by it reports.
    """

    required_rate: Fraction
    first_assessed_year: int
    move_weight: float = field(default_factory=lambda: default("move_weight"))
    keep_weight: float = field(default_factory=lambda: default("keep_weight"))
    crew_lending: float = field(default_factory=lambda: default("crew_lending"))
    gap: float = field(default_factory=lambda: default("solver_gap"))
    node_limit: int = field(default_factory=lambda: default("solver_node_limit"))
    crew_node_limit: int = field(default_factory=lambda: default("solver_crew_node_limit"))
    seconds_limit: float = field(default_factory=lambda: default("solver_seconds_limit"))
    seed: int = 1


@dataclass(frozen=True)
class PlanCase:
    """Everything one plan is drawn from; `past_rates` holds the annual rates of years now over."""

    areas: tuple[PlanArea, ...]
    years: tuple[PlanYear, ...]
    settings: PlanSettings
    seasons: tuple[str, ...] = ("YEAR",)
    quotas: tuple[Quota, ...] = ()
    past_rates: tuple[Fraction, ...] = ()

    def open_years(self, area: PlanArea) -> tuple[int, ...]:
        """Program years in which the area may be done, after every rule about it."""
        return tuple(
            year.year
            for year in self.years
            if (area.locked_year is None or year.year == area.locked_year)
            and (area.allowed_years is None or year.year in area.allowed_years)
            and (area.earliest_year is None or year.year >= area.earliest_year)
        )


@dataclass(frozen=True)
class Placement:
    """Where one area went: its program year, and its crew as a number from 1."""

    area_id: str
    year: int
    crew: int


@dataclass(frozen=True)
class YearRow:
    """One program year of a drawn plan; rates are exact fractions."""

    year: int
    areas: int
    jobs: int
    capacity: int
    cost: float
    budget: float
    replacements: float
    pool: int
    annual_rate: Fraction
    cumulative_rate: Fraction
    assessed: bool
    meets: bool | None


@dataclass(frozen=True)
class Relaxation:
    """How much one kind of rule falls short: no plan is possible with a smaller change to it.

    `alone` says that the other kinds can then be kept; otherwise all that carry `alone=False` fall
    short together. `amounts` pairs each limit touched with its change. Areas that stay whole, and
    crews, may ask for more: a change is worth offering only once a plan was drawn with it.
    """

    kind: str
    alone: bool
    amounts: tuple[tuple[str, float], ...]
    sentence: str


@dataclass(frozen=True)
class Plan:
    """A drawn plan, or the reason why there is none.

    `status` is OPTIMAL (proven within the gap), FEASIBLE (a work limit came first), INFEASIBLE (the
    rules clash: see `relaxations`) or NONE (nothing found within the limits: see `notes`).
    `objective` counts priority-years of waiting and moves; `bound` is the proven least possible.
    `overrun` counts jobs by which whole areas run over the crews of their years.
    `work` counts branch-and-bound nodes; `notes` are sentences to show with the plan.
    """

    status: str
    placements: tuple[Placement, ...] = ()
    years: tuple[YearRow, ...] = ()
    objective: float | None = None
    bound: float | None = None
    gap: float | None = None
    openings: int = 0
    overrun: int = 0
    kept: int = 0
    published: int = 0
    work: int = 0
    notes: tuple[str, ...] = ()
    relaxations: tuple[Relaxation, ...] = ()

    def year_of(self) -> dict[str, int]:
        """Program year by area id."""
        return {placement.area_id: placement.year for placement in self.placements}


class CannotPlan(ValueError):
    """The case itself is faulty; `sentences` say what to change."""

    def __init__(self, sentences):
        self.sentences = tuple(sentences)
        super().__init__(" ".join(self.sentences))
