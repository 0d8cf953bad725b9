"""Facts of tap sampling and outreach that start clocks."""

from collections.abc import Iterator
from datetime import date

from django.db.models import FilteredRelation, Q
from django.utils.timezone import localtime

from program.domain.deadlines import (
    CopperExceedance,
    HighSite,
    LeadExceedance,
    MonitoringPeriod,
    YearlyOutreach,
)
from program.models import SamplingPeriod
from program.queries.outreach import outreach_done
from program.queries.sampling import high_sites
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import Rules

from .chosen import Chosen


def monitoring_periods(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[MonitoringPeriod | LeadExceedance | CopperExceedance]:
    """Yield the periods, each of which asks for a look at its sites; what was learned of some."""
    if chosen is not None:
        return
    learned = Q(exceedances__withdrawn_at__isnull=True)
    rows = list(
        SamplingPeriod.objects.standing()
        .annotate(learned=FilteredRelation("exceedances", condition=learned))
        .order_by("first_day", "id")
        .values_list("pk", "first_day", "last_day", "learned__metal", "learned__learned_at")[
            : 2 * (limit + 1)
        ]
    )
    ends = {pk: last for pk, _, last, metal, _ in rows if metal == "LEAD"}
    for pk, first in dict.fromkeys((pk, first) for pk, first, *_ in rows):
        yield MonitoringPeriod(str(pk), first)
    for pk, _, last, metal, at in rows:
        if metal == "COPPER":
            yield CopperExceedance(str(pk), last)
        elif metal:
            others = tuple(day for other, day in ends.items() if other != pk)
            yield LeadExceedance(str(pk), localtime(at), last, others)


def sites_above(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[HighSite]:
    """Yield sites above the level within the last year that nobody sampled again yet."""
    kept = chosen.of_line() if chosen else Q()
    for _, place, learned, key, again in high_sites(rules, add_months(as_of, -12), kept):
        if again is None:
            yield HighSite(place, learned, key)


def outreach(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[YearlyOutreach]:
    """Yield what is told to others every year, from the year after the compliance date."""
    if chosen is None:
        first = rules.latest("COMPLIANCE_DATE").value.year + 1
        yield YearlyOutreach(first, outreach_done())
