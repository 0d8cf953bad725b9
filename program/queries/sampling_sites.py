"""Sampling sites by tier, read from the inventory through the rule (40 CFR 141.86(a)).

The tier turns on few facts (kind of building, category, connector), so lines are grouped by
these facts and each group is judged once; the sites of a tier are then the lines of its groups.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import Count, Q, QuerySet

from program.domain.sampling_tiers import Site, Structure, sample_count, tier
from program.models import Utility
from services_inventory.domain.classification import Category
from services_inventory.domain.materials import Connector
from services_inventory.domain.regulation import Rules
from services_inventory.models import ServiceLine

SHOWN = 200
_KINDS = {
    "SINGLE_FAMILY": Structure.SINGLE_FAMILY,
    "MULTI_FAMILY": Structure.MULTI_FAMILY,
}


@dataclass(frozen=True)
class SiteGroup:
    """Lines that are alike in all that a tier turns on, with the verdict on them."""

    kind: str
    category: str
    connector: str
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
    rows = (
        _lines()
        .values_list("premise__kind", "category", "connector")
        .annotate(n=Count("id"))
        .order_by()
    )
    counted = list(rows)
    share = _multi_family_share(counted)
    groups = []
    for kind, category, connector, number in counted:
        verdict = tier(_site(kind, category, connector), multi_family_share=share, rules=rules)
        groups.append(SiteGroup(kind, category, connector, number, verdict.tier, verdict.reason))
    standard, reduced = _needed(as_of, rules)
    unstated = sum(number for kind, _, _, number in counted if not kind)
    return SitesByTier(tuple(groups), standard, reduced, share, unstated)


def _lines() -> QuerySet:
    return ServiceLine.objects.filter(category__isnull=False, use="DOMESTIC")


def _site(kind: str, category: str, connector: str) -> Site:
    structure = _KINDS.get(kind, Structure.OTHER)
    return Site(structure, Category(category), Connector(connector))


def _multi_family_share(counted: list[tuple]) -> Fraction | None:
    """Return multi-family buildings as a share of those whose kind is stated, None if none is."""
    stated = sum(number for kind, _, _, number in counted if kind)
    multi = sum(number for kind, _, _, number in counted if kind == "MULTI_FAMILY")
    return Fraction(multi, stated) if stated else None


def _needed(as_of: date, rules: Rules) -> tuple[int | None, int | None]:
    population = Utility.objects.order_by("id").values_list("population", flat=True).first()
    if not population:
        return None, None
    return (
        sample_count(population, as_of, rules=rules),
        sample_count(population, as_of, reduced=True, rules=rules),
    )


def sites_of(found: SitesByTier, level: int) -> QuerySet:
    """Return the lines of one tier as (location id, address, kind, category, connector), by id."""
    condition = Q(pk__in=[])
    for group in found.reasons(level):
        condition |= Q(premise__kind=group.kind, category=group.category, connector=group.connector)
    return (
        _lines()
        .filter(condition)
        .order_by("id")
        .values_list("location_id", "premise__address", "premise__kind", "category", "connector")
    )


def site_rows(found: SitesByTier, level: int) -> Iterator[tuple]:
    """Yield a tier's sites with the reason, for a file."""
    why = {(g.kind, g.category, g.connector): g.reason for g in found.reasons(level)}
    for row in sites_of(found, level).iterator(chunk_size=5_000):
        yield (level, *row, why[row[2:]])
