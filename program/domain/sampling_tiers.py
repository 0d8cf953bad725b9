"""Tap sampling: the tier of a site, how many sites, and the 90th percentile.

Sites come from the highest tier there is (40 CFR 141.86(a)); the tier is read from the
inventory's category and connector, with what is known of the plumbing inside. The 90th
percentile decides an exceedance when it is greater than the action level (141.80(c)).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import floor
from operator import attrgetter
from typing import Any

from program.domain.regulation import RULES, exact
from services_inventory.domain.classification import Category
from services_inventory.domain.labels import Labeled
from services_inventory.domain.materials import Connector
from services_inventory.domain.plumbing import Plumbing, PlumbingInside, Treatment
from services_inventory.domain.regulation import Rules

_CITATION = "40 CFR 141.86(a)"
_HALF = Fraction(1, 2)
_SOLDER = {
    True: "Copper plumbing with lead solder from before the lead ban.",
    False: "Copper plumbing with lead solder; its year is not on record, confirm it.",
}


class Structure(Labeled):
    """The building at a sampling site."""

    SINGLE_FAMILY = "SINGLE_FAMILY", "Single-family"
    MULTI_FAMILY = "MULTI_FAMILY", "Multi-family"
    OTHER = "OTHER", "Other"


@dataclass(frozen=True)
class Site:
    """What a sampling tier turns on.

    `galvanized_below_lead`: a galvanized line or galvanized plumbing is or was downstream of a
    lead line or lead connector; None: not known beyond the category. `leaded_solder`: copper
    plumbing with lead solder, laid before the ban unless `solder_dated` says that no year is on
    record. `treated`: a filter at the tap or the entry. `representative`: of materials common in
    the system.
    """

    structure: Structure
    category: Category
    connector: Connector = Connector.UNKNOWN
    lead_plumbing: bool = False
    galvanized_below_lead: bool | None = None
    leaded_solder: bool = False
    solder_dated: bool = True
    treated: bool = False
    representative: bool = False

    @property
    def is_lead_line(self) -> bool:
        """Whether the first and the fifth liter are taken here, not only the first."""
        return self.category is Category.LEAD


@dataclass(frozen=True)
class TierVerdict:
    """The tier of a site, 1 the highest, None when it has none, with the reason."""

    tier: int | None
    reason: str
    citation: str = _CITATION


def tier(
    site: Site, *, multi_family_share: Fraction | None = None, rules: Rules = RULES
) -> TierVerdict:
    """Place a site in its sampling tier.

    multi_family_share : multi-family buildings as a share of the structures served, None not known

    Source: 40 CFR 141.86(a); rule value MULTI_FAMILY_SHARE.
    """
    if site.treated:
        return TierVerdict(None, "A filter at the tap or the entry would hide the lead.")
    if site.is_lead_line or site.lead_plumbing:
        return _lead_tier(site, multi_family_share, rules)
    if site.connector is Connector.LEAD:
        return TierVerdict(3, "A lead connector serves the site.")
    if site.galvanized_below_lead:
        return TierVerdict(3, "Galvanized pipe here is or was downstream of lead.")
    if site.category is Category.GRR and site.galvanized_below_lead is None:
        return TierVerdict(3, "The line is galvanized requiring replacement.")
    if site.leaded_solder:
        return TierVerdict(4, _SOLDER[site.solder_dated])
    if site.representative:
        return TierVerdict(5, "The site stands for materials common in the system.")
    if site.category is Category.UNKNOWN:
        return TierVerdict(None, "A line of unknown material gives no tier by itself.")
    return TierVerdict(None, "Nothing on record puts the site in a tier.")


def site_of(
    structure: Structure, category: Category, connector: Connector, inside: PlumbingInside,
    *, lead_above: bool = False, common: frozenset[Plumbing] = frozenset(), lead_ban: date,
) -> Site:  # fmt: skip
    """Return the site of a line and the plumbing it serves.

    Parameters
    ----------
    lead_above : galvanized pipe is here, and the line was lead or had a lead connector before
    common : plumbing that is common in the system
    lead_ban : the day of the lead ban; a bare year counts from its first day
    """
    pipes, year = inside.pipes, inside.laid_year
    before_ban = year is None or date(year, 1, 1) < lead_ban
    return Site(
        structure,
        category,
        connector,
        lead_plumbing=pipes is Plumbing.LEAD,
        galvanized_below_lead=True if lead_above else None,
        leaded_solder=bool(pipes and pipes.has_lead_solder and before_ban),
        solder_dated=year is not None,
        treated=inside.treatment in (Treatment.POINT_OF_USE, Treatment.POINT_OF_ENTRY),
        representative=pipes in common,
    )


def common_plumbing(numbers: Mapping[Plumbing, int], rules: Rules = RULES) -> frozenset[Plumbing]:
    """Return the plumbing that is common among the buildings whose plumbing is on record."""
    total, least = sum(numbers.values()), rules.latest("COMMON_PLUMBING_SHARE").value
    return frozenset(
        pipes for pipes, number in numbers.items() if number and Fraction(number, total) >= least
    )


def _lead_tier(site: Site, share: Fraction | None, rules: Rules) -> TierVerdict:
    what = "A lead service line serves" if site.is_lead_line else "Lead plumbing is inside"
    if site.structure is Structure.SINGLE_FAMILY:
        return TierVerdict(1, f"{what} this single-family structure.")
    least = rules.latest("MULTI_FAMILY_SHARE").value
    if site.structure is Structure.MULTI_FAMILY and share is not None and share >= least:
        return TierVerdict(1, f"{what} this multi-family building, a common kind in the system.")
    return TierVerdict(2, f"{what} this building.")


def sample_count(
    population: int, as_of: date, *, reduced: bool = False, rules: Rules = RULES
) -> int:
    """Return the number of tap sampling sites for a population served.

    Raises
    ------
    ValueError: the population is less than 1.
    """
    for over, standard, fewer in rules.value("TAP_SAMPLES", as_of):
        if population > over:
            return fewer if reduced else standard
    raise ValueError(f"The population served is {population}; give at least 1.")


@dataclass(frozen=True)
class Sample:
    """What one site's water held on one day: of several bottles the highest value.

    `tier`: None where the site has none; `value`: in micrograms per liter; `key`: whatever the
    caller knows it by.
    """

    tier: int | None
    value: Fraction
    key: Any = None


def deciding(samples: Iterable[Sample], required: int, rules: Rules = RULES) -> list[Sample]:
    """Return the samples that the 90th percentile is taken of, the highest last.

    All those of Tiers 1 and 2; where they are fewer than required, filled up with the highest
    of the lower tiers. Without any Tier 1 or 2 sample, every one decides. A site without a tier
    never does.
    """
    top = rules.latest("TOP_TIER").value
    tiered = [sample for sample in samples if sample.tier is not None]
    lead = [sample for sample in tiered if sample.tier <= top]
    rest = [sample for sample in tiered if sample.tier > top]
    short = len(rest) if not lead else max(0, required - len(lead))
    rest.sort(key=attrgetter("value"), reverse=True)
    return sorted(lead + rest[:short], key=attrgetter("value"))


@dataclass(frozen=True)
class Ninetieth:
    """A 90th percentile with the way to it.

    `rank`: where it lies among the results in ascending order, counted from 1; `low`, `high`:
    the ranks of the results it is taken of, the same where it is one of them; `way`: in words.
    """

    value: Fraction
    number: int
    rank: Fraction
    low: int
    high: int
    way: str


def ninetieth(
    values: Iterable[float | Fraction], method: str | None = None, rules: Rules = RULES
) -> Ninetieth:
    """Return the 90th percentile of tap results with its rank, in the unit they are given in.

    The results in ascending order, the one at rank 0.9 n decides. With five results it is the
    mean of the two highest, with fewer the highest.

    values : concentrations, each as the laboratory wrote it
    method : for a rank that is not whole, 'interpolate' or 'nearest' (a half goes up); when
        None, what the rule value PERCENTILE_RANK_METHOD says

    Raises
    ------
    ValueError: there are no results, one is negative or not a number, or the method is not known.

    Source: 40 CFR 141.80(c)(4); the two ways with a rank that is not whole are both in public
    training handouts.

    Examples
    --------
    >>> float(ninetieth([0.008, 0.006, 0.020, 0.000, 0.001]).value)
    0.014
    """
    results = sorted(_result(value) for value in values)
    how = method or rules.latest("PERCENTILE_RANK_METHOD").value
    if how not in ("interpolate", "nearest"):
        raise ValueError(f"The rank method is {how!r}; it may be 'interpolate' or 'nearest'.")
    if not results:
        raise ValueError("There are no results to take the 90th percentile of.")
    number, small = len(results), rules.latest("PERCENTILE_SMALL_SET").value
    if number < small:
        way = f"Fewer than {small} results: the highest decides."
        return Ninetieth(results[-1], number, Fraction(number), number, number, way)
    if number == small:
        way = f"{small} results: the mean of the two highest."
        value = (results[-1] + results[-min(2, number)]) / 2
        return Ninetieth(value, number, number - _HALF, max(1, number - 1), number, way)
    share = rules.latest("PERCENTILE_SHARE").value
    rank = share * number
    counted = f"{float(share):g} × {number} = {float(rank):g}"
    if how == "nearest" or rank.denominator == 1:
        place = floor(rank + _HALF)
        way = f"{counted}: the result of rank {place}."
        return Ninetieth(results[place - 1], number, rank, place, place, way)
    low, high = floor(rank), min(floor(rank) + 1, number)
    value = results[low - 1] + (rank - low) * (results[high - 1] - results[low - 1])
    way = f"{counted}: between the results of rank {low} and {high}, in proportion."
    return Ninetieth(value, number, rank, low, high, way)


def _result(value: float | Fraction) -> Fraction:
    number = exact(value)
    if number < 0:
        raise ValueError(f"A result is {value}; a concentration is 0 or more.")
    return number


def counted(metal: str, micrograms: Fraction, below: bool, rules: Rules = RULES) -> Fraction:
    """Return what a result counts as, in micrograms per liter.

    micrograms : as measured, or the limit where the laboratory found less than that
    below : whether it is such a limit

    Source: 40 CFR 141.89(a); rule values LEAD_ and COPPER_DETECTION_UP_TO_UG_PER_L.
    """
    if below and micrograms <= rules.latest(f"{metal}_DETECTION_UP_TO_UG_PER_L").value:
        return Fraction(0)
    return micrograms


def exceeds(
    percentile: float | Fraction, as_of: date, *, unit: str = "ug/L", metal: str = "LEAD",
    rules: Rules = RULES,
) -> bool:  # fmt: skip
    """Tell whether a 90th percentile is greater than the action level in force on a day.

    percentile : in the unit, 'ug/L' or 'mg/L'
    metal : 'LEAD' or 'COPPER'

    Raises
    ------
    ValueError: the unit or the metal is not one of the two.
    """
    if metal not in ("LEAD", "COPPER"):
        raise ValueError(f"There is no action level for {metal!r}; it may be LEAD or COPPER.")
    if unit not in ("ug/L", "mg/L"):
        raise ValueError(f"The unit is {unit!r}; it may be 'ug/L' or 'mg/L'.")
    micrograms = exact(percentile) * (1000 if unit == "mg/L" else 1)
    return micrograms > rules.value(f"{metal}_ACTION_LEVEL_UG_PER_L", as_of)
