"""Facts of tap sampling and outreach that start clocks."""

from collections.abc import Iterator
from datetime import date

from django.db.models import Q

from program.domain.deadlines import HighSite, LeadExceedance, MonitoringPeriod, YearlyOutreach
from program.models import SamplingPeriod
from program.queries.outreach import outreach_done
from program.queries.sampling import exceedance_facts, high_sites
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import Rules

from .chosen import Chosen


def monitoring_periods(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[MonitoringPeriod]:
    """Yield the periods, each of which asks for a look at its sites before it begins."""
    if chosen is None:
        for period in SamplingPeriod.objects.standing().order_by("first_day", "id")[: limit + 1]:
            yield MonitoringPeriod(str(period.pk), period.first_day)


def exceedances(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[LeadExceedance]:
    """Yield what was learned of lead above the action level."""
    if chosen is None:
        yield from exceedance_facts()[: limit + 1]


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
