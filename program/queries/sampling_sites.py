"""Sampling sites by tier, read from the inventory through the rule (40 CFR 141.86(a)).

The tier turns on few facts (building, category, connector, plumbing inside, what was above it),
so lines are grouped by these facts and each group is judged once; the sites of a tier are then
the lines of its groups. How many are in each group is kept from page to page.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from django.db.models import BooleanField, Case, Count, Exists, OuterRef, Q, QuerySet, Value, When

from program.domain.sampling_tiers import (
    Site,
    Structure,
    TierVerdict,
    common_plumbing,
    sample_count,
    site_of,
    tier,
)
from program.utility import the_utility
from services_inventory.domain.classification import Category
from services_inventory.domain.evidence import lead_ban_date
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.plumbing import Plumbing, PlumbingInside, Treatment
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange, Evidence, ServiceLine
from services_inventory.queries.kept_counts import Cells, facts_mark, kept_cells

SHOWN = 200
_FIRST_LOOK, _WHOLE_RECORD = 2_000, 10**12
_KINDS = {
    "SINGLE_FAMILY": Structure.SINGLE_FAMILY,
    "MULTI_FAMILY": Structure.MULTI_FAMILY,
}
_GALVANIZED_INSIDE = [code for code in Plumbing if code.is_galvanized]


class Facts(NamedTuple):
    """All that a tier turns on, as the record has it."""

    kind: str
    category: str
    connector: str
    plumbing: str
    plumbing_year: int | None
    treatment: str
    lead_above: bool


_FIELDS = (
    "premise__kind", "category", "connector", "premise__plumbing", "premise__plumbing_year",
    "premise__treatment", "lead_above",
)  # fmt: skip


@dataclass(frozen=True)
class SiteGroup:
    """Lines that are alike in all that a tier turns on, with the verdict on them."""

    facts: Facts
    number: int
    tier: int | None
    reason: str


@dataclass(frozen=True)
class SitesByTier:
    """The whole picture on a day: groups, how many sites are needed, what is not known."""

    groups: tuple[SiteGroup, ...]
    standard: int | None
    reduced: int | None
    multi_family_share: Fraction | None
    kind_not_stated: int
    plumbing_not_stated: int
    common: frozenset[Plumbing]

    def number(self, level: int | None) -> int:
        """Return how many sites a tier has."""
        return sum(group.number for group in self.groups if group.tier == level)

    def reasons(self, level: int | None) -> list[SiteGroup]:
        """Return a tier's groups, the largest first."""
        found = [group for group in self.groups if group.tier == level]
        return sorted(found, key=lambda group: -group.number)

    def by_reason(self, level: int | None) -> list[tuple[str, int]]:
        """Return (reason, number of sites) of a tier, the most common first."""
        found = Counter()
        for group in self.reasons(level):
            found[group.reason] += group.number
        return found.most_common()


def sites_by_tier(as_of: date, rules: Rules) -> SitesByTier:
    """Return the lines of drinking-water use by tier.

    A building whose kind is not stated is judged as neither single- nor multi-family, so a lead
    line there gives Tier 2, never Tier 1, until somebody states its kind.
    """
    counted = _counted_now()
    share = _multi_family_share(counted)
    common = common_plumbing(_plumbing(counted), rules)
    ban = lead_ban_date(as_of, rules)
    groups = []
    for facts, number in counted:
        verdict = tier(_site(facts, common, ban), multi_family_share=share, rules=rules)
        groups.append(SiteGroup(facts, number, verdict.tier, verdict.reason))
    standard, reduced = _needed(as_of, rules)
    return SitesByTier(
        tuple(groups),
        standard,
        reduced,
        share,
        sum(number for facts, number in counted if not facts.kind),
        sum(number for facts, number in counted if not facts.plumbing),
        common,
    )


def _counted_now() -> list[tuple[Facts, int]]:
    """Return how many lines are alike in all facts, from counts that are kept."""
    whole = Counter()
    for counts in kept_cells("sampling-sites", facts_mark(), _counted).values():
        whole.update(counts)
    return list(whole.items())


def _counted(kept: Q) -> Cells:
    """Return {neighborhood id: {facts: lines}} of these lines."""
    cells: Cells = {}
    rows = _lines().filter(kept).values_list("neighborhood_id", *_FIELDS)
    for place, *facts, number in rows.annotate(n=Count("id")).order_by():
        cells.setdefault(place, {})[Facts(*facts)] = number
    return cells


def _lines() -> QuerySet:
    """Lines of drinking-water use, told whether galvanized pipe there is or was below lead.

    Any evidence of lead that stands counts, of a portion or the connector, now or before.
    """
    lines = ServiceLine.objects.filter(category__isnull=False, use="DOMESTIC")
    galvanized = (
        Q(premise__plumbing__in=_GALVANIZED_INSIDE)
        | Q(system_material="GALVANIZED")
        | Q(customer_material="GALVANIZED")
    )
    lead = Evidence.objects.filter(
        line=OuterRef("pk"),
        material__in=[code for code in Material if code.is_lead],
        withdrawn_by__isnull=True,
        batch__withdrawn_by__isnull=True,
    )
    before = Q(system_was_lead=True) | Q(Exists(lead))
    return lines.annotate(
        lead_above=Case(
            When(galvanized, then=Case(When(before, then=Value(True)), default=Value(False))),
            default=Value(False),
            output_field=BooleanField(),
        )
    )


def _site(facts: Facts, common: frozenset[Plumbing], lead_ban: date) -> Site:
    inside = PlumbingInside(
        Plumbing(facts.plumbing) if facts.plumbing else None,
        facts.plumbing_year,
        Treatment(facts.treatment) if facts.treatment else None,
    )
    return site_of(
        _KINDS.get(facts.kind, Structure.OTHER),
        Category(facts.category),
        Connector(facts.connector),
        inside,
        lead_above=facts.lead_above,
        common=common,
        lead_ban=lead_ban,
    )


def _plumbing(counted: list[tuple[Facts, int]]) -> Counter:
    found = Counter()
    for facts, number in counted:
        if facts.plumbing:
            found[Plumbing(facts.plumbing)] += number
    return found


def _multi_family_share(counted: list[tuple[Facts, int]]) -> Fraction | None:
    """Return multi-family buildings as a share of those whose kind is stated, None if none is."""
    stated = sum(number for facts, number in counted if facts.kind)
    multi = sum(number for facts, number in counted if facts.kind == "MULTI_FAMILY")
    return Fraction(multi, stated) if stated else None


def _needed(as_of: date, rules: Rules) -> tuple[int | None, int | None]:
    utility = the_utility()
    if utility is None or not utility.population:
        return None, None
    population = utility.population
    return (
        sample_count(population, as_of, rules=rules),
        sample_count(population, as_of, reduced=True, rules=rules),
    )


def sites_of(found: SitesByTier, level: int) -> QuerySet:
    """Return the lines of one tier as (location id, address, *`Facts`), by id."""
    condition = Q(pk__in=[])
    for group in found.reasons(level):
        condition |= _of_group(group.facts)
    return (
        _lines()
        .filter(condition)
        .order_by("id")
        .values_list("location_id", "premise__address", *_FIELDS)
    )


def first_sites(found: SitesByTier, level: int, limit: int = SHOWN) -> list[tuple]:
    """Return the first rows of `sites_of`, looking at as few lines as it takes."""
    sites, wanted = sites_of(found, level), min(limit, found.number(level))
    rows, start, width = [], 0, _FIRST_LOOK
    while len(rows) < wanted and width < _WHOLE_RECORD:
        rows += sites.filter(pk__gt=start, pk__lte=start + width)[: wanted - len(rows)]
        start, width = start + width, width * 4
    return rows


def _of_group(facts: Facts) -> Q:
    """Return the condition that keeps a group's lines; a year may be empty."""
    asked = dict(zip(_FIELDS, facts, strict=True))
    if facts.plumbing_year is None:
        asked["premise__plumbing_year__isnull"] = asked.pop("premise__plumbing_year") is None
    return Q(**asked)


def site_rows(found: SitesByTier, level: int) -> Iterator[tuple]:
    """Yield (tier, location id, address, *`Facts`, reason) of a tier's sites, for a file."""
    why = {group.facts: group.reason for group in found.reasons(level)}
    for place, address, *facts in sites_of(found, level).iterator(chunk_size=5_000):
        facts = Facts(*facts)
        yield (level, place, address, *facts, why[facts])


def verdicts_of(sampled: Mapping[int, date], as_of: date, rules: Rules) -> dict[int, TierVerdict]:
    """Return the tier of each line by what it was on the day its water was taken.

    sampled : {line id: day}; a later change of the category does not count
    """
    whole = sites_by_tier(as_of, rules)
    ban, found = lead_ban_date(as_of, rules), {}
    categories = _categories_on(sampled)
    rows = _lines().filter(pk__in=sampled).values_list("id", *_FIELDS)
    for pk, *said in rows:
        facts = Facts(*said)._replace(category=categories.get(pk, said[1]))
        site = _site(facts, whole.common, ban)
        found[pk] = tier(site, multi_family_share=whole.multi_family_share, rules=rules)
    none = TierVerdict(None, "No drinking-water line with a category is on record here.")
    return {pk: found.get(pk, none) for pk in sampled}


def _categories_on(sampled: Mapping[int, date]) -> dict[int, str]:
    """Return the category of lines that have had another since the day that is asked for."""
    changes = CategoryChange.objects.filter(
        line__in=sampled, effective_on__gt=min(sampled.values(), default=date.max)
    ).order_by("-effective_on", "-recorded_at", "-id")
    return {
        line: category
        for line, category, day in changes.values_list("line", "from_category", "effective_on")
        if category and day > sampled[line]
    }
