"""Which way to replace a line: ranked, each way with its reasons and what blocks it.

The rules are rows of `replacements/reference/method_rules.csv`: a way, a condition, whether it
blocks, speaks for or speaks against, and why. Open cut is never blocked: it is always the
fall-back, and its price is agreed before any other way is tried.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from replacements.domain.methods import Method
from replacements.domain.pull_force.case import PipeSize
from replacements.domain.pull_force.parameters import ParameterSet
from replacements.domain.pull_force.pull_out import holding_psf, longest_pull_out_ft
from replacements.domain.pull_force.soils import Soil, SoilFamily, soil
from replacements.domain.pull_force.verdict import Verdict
from replacements.domain.reference_tables import cited, rows


class Effect(StrEnum):
    """What a rule does to a way when its condition holds."""

    BLOCK = "BLOCK"
    FOR = "FOR"
    AGAINST = "AGAINST"


@dataclass(frozen=True)
class Site:
    """What is known of one line before a method is chosen.

    threadable : a rod or camera has passed the whole bore; False where it could not. What is not
        known is None and blocks nothing, but is told.
    uncuttable_joints : brass or steel fittings that will stay in the run
    unverified_crossing : another line crosses inside the clearance and has not been exposed
    new_route : a straight new path beside the old one is open
    other_lines_looked_for : marks and maps were looked at; False where nobody recorded it
    lead_must_leave : a rule or an agreement asks for the old lead to be taken away
    force_verdict : of the force estimate for slitting, None when none was made
    """

    old_pipe: PipeSize
    length_ft: float
    cover_ft: float
    soil: str | Soil
    old_material: str = "LEAD"
    bends_deg: float = 0.0
    wiped_joints: int = 0
    uncuttable_joints: int = 0
    threadable: bool | None = None
    frozen: bool = False
    rock: bool = False
    hard_fill: bool = False
    groundwater: bool = False
    congested: bool = False
    unverified_crossing: bool = False
    new_route: bool = True
    tight_yard: bool = False
    paved: bool = False
    road_crossing: bool = False
    open_works: bool = False
    lead_must_leave: bool = False
    other_lines_looked_for: bool = True
    force_verdict: Verdict | None = None

    def __post_init__(self):
        """Look up the soil and refuse what cannot be.

        Raises
        ------
        ValueError: if the soil is unknown, or length or cover is not above zero.
        """
        object.__setattr__(self, "soil", self.ground)
        if self.length_ft <= 0 or self.cover_ft <= 0:
            raise ValueError("Length and cover must be above zero, in ft.")

    @property
    def ground(self) -> Soil:
        """The soil with its values."""
        return self.soil if isinstance(self.soil, Soil) else soil(self.soil)

    @property
    def pull_out_ft(self) -> float:
        """Planned greatest length for pulling the old pipe out, ft."""
        constants = ParameterSet()
        longest = longest_pull_out_ft(
            self.old_pipe,
            holding_psf(self.ground, self.cover_ft, constants),
            constants["LEAD_TENSION"],
        )
        return longest * constants["PULL_OUT_FRACTION"]


@dataclass(frozen=True)
class MethodRule:
    """One row of the table of rules."""

    method: Method
    condition: str
    value: float
    effect: Effect
    points: int
    reason: str
    mark: str
    source: str


@dataclass(frozen=True)
class Reason:
    """A rule that holds for this line, in words, with its source."""

    effect: Effect
    points: int
    text: str
    source: str


@dataclass(frozen=True)
class Advice:
    """One way for one line: its rank from 1, its points, and every reason for and against."""

    method: Method
    rank: int
    score: int
    reasons: tuple[Reason, ...]

    @property
    def blockers(self) -> tuple[Reason, ...]:
        return tuple(reason for reason in self.reasons if reason.effect is Effect.BLOCK)

    @property
    def blocked(self) -> bool:
        return bool(self.blockers)


# What each condition of the table asks of a site; `value` is the rule's own.
CONDITIONS: Mapping[str, Callable[[Site, float], bool]] = MappingProxyType(
    {
        "ALWAYS": lambda site, value: True,
        "LENGTH_OVER": lambda site, value: site.length_ft > value,
        "LENGTH_UNDER": lambda site, value: site.length_ft < value,
        "LENGTH_BETWEEN": lambda site, value: 10 <= site.length_ft <= value,
        "LONGER_THAN_PULL_OUT": lambda site, value: site.length_ft > site.pull_out_ft,
        "COVER_OVER": lambda site, value: site.cover_ft > value,
        "COVER_UNDER": lambda site, value: site.cover_ft < value,
        "BENDS_OVER": lambda site, value: site.bends_deg > value,
        "WIPED_JOINTS_OVER": lambda site, value: site.wiped_joints > value,
        "UNCUTTABLE_JOINTS": lambda site, value: site.uncuttable_joints > 0,
        "UNTHREADABLE": lambda site, value: site.threadable is False,
        "NOT_LEAD": lambda site, value: site.old_material != "LEAD",
        "FROZEN": lambda site, value: site.frozen,
        "ROCK": lambda site, value: site.rock,
        "HARD_FILL": lambda site, value: site.hard_fill,
        "WET_SAND": lambda site, value: site.groundwater and site.ground.family is SoilFamily.SAND,
        "LOOSE_GROUND": lambda site, value: site.ground.code in {"LOOSE_SAND", "SILT"},
        "COMPRESSIBLE_GROUND": lambda site, value: (
            site.ground.code in {"SOFT_CLAY", "MEDIUM_CLAY", "STIFF_CLAY", "LOOSE_SAND", "SILT"}
        ),
        "DENSE_GROUND": lambda site, value: site.ground.code in {"DENSE_SAND", "VERY_STIFF_CLAY"},
        "CONGESTED": lambda site, value: site.congested,
        "UNVERIFIED_CROSSING": lambda site, value: site.unverified_crossing,
        "NO_NEW_ROUTE": lambda site, value: not site.new_route,
        "TIGHT_YARD": lambda site, value: site.tight_yard,
        "PAVED": lambda site, value: site.paved,
        "ROAD_CROSSING": lambda site, value: site.road_crossing,
        "OPEN_WORKS": lambda site, value: site.open_works,
        "LEAD_MUST_LEAVE": lambda site, value: site.lead_must_leave,
        "FORCE_NO_GO": lambda site, value: site.force_verdict is Verdict.NO_GO,
        "FORCE_CAUTION": lambda site, value: site.force_verdict is Verdict.CAUTION,
    }
)


@cache
def method_rules() -> tuple[MethodRule, ...]:
    """Return the shipped rules in their order."""
    return tuple(
        MethodRule(
            Method(row["method"]),
            row["condition"],
            float(row["value"] or 0),
            Effect(row["effect"]),
            int(row["points"]),
            row["reason"],
            row["mark"],
            row["source"],
        )
        for row in rows("method_rules")
    )


def advise(site: Site) -> list[Advice]:
    """Return every way, the best first, those that are blocked last; the same for the same site."""
    order = list(Method)
    weighed = [(method, _reasons(site, method)) for method in order]
    weighed.sort(key=lambda pair: (_blocked(pair[1]), -_score(pair[1]), order.index(pair[0])))
    return [
        Advice(method, rank, _score(reasons), reasons)
        for rank, (method, reasons) in enumerate(weighed, start=1)
    ]


def unknowns(site: Site) -> list[str]:
    """Return in sentences what should be found out before the choice is trusted."""
    found = []
    if site.threadable is None:
        found.append("Nobody has yet proved the bore with a rod or camera.")
    if site.force_verdict is None:
        found.append("No force estimate has been made.")
    if not site.other_lines_looked_for:
        found.append("Nobody has recorded that other lines near the run were looked for.")
    return found


def _reasons(site: Site, method: Method) -> tuple[Reason, ...]:
    return tuple(
        Reason(
            rule.effect,
            rule.points,
            rule.reason.format(value=rule.value, limit=site.pull_out_ft),
            cited(rule.source, rule.mark),
        )
        for rule in method_rules()
        if rule.method is method and CONDITIONS[rule.condition](site, rule.value)
    )


def _blocked(reasons: tuple[Reason, ...]) -> bool:
    return any(reason.effect is Effect.BLOCK for reason in reasons)


def _score(reasons: tuple[Reason, ...]) -> int:
    signs = {Effect.FOR: 1, Effect.AGAINST: -1, Effect.BLOCK: 0}
    return sum(signs[reason.effect] * reason.points for reason in reasons)
