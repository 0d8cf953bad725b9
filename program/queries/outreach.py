"""Outreach as it stands: who is on the list, who was reached in which year, with what proof."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import F, FilteredRelation, Q

from program.models import Audience, OutreachAct, OutreachPartner

# Which yearly duty an audience answers; the others are told where the utility wants to.
DUTY_OF = {
    Audience.HEALTH: "HEALTH_AGENCY_OUTREACH_LAST_DAY",
    Audience.SCHOOL: "SCHOOL_OUTREACH_LAST_DAY",
}


@dataclass(frozen=True)
class Reached:
    """An audience in a year: how many of the list were reached, who was not."""

    audience: Audience
    year: int
    partners: tuple[OutreachPartner, ...]
    missing: tuple[OutreachPartner, ...]
    last_on: date | None

    @property
    def complete(self) -> bool:
        """Whether the list holds somebody, and all of it was reached."""
        return bool(self.partners) and not self.missing


def reached_in(year: int) -> list[Reached]:
    """Return how each audience stands in a calendar year."""
    reached = _reached()
    return [_stands(audience, year, reached) for audience in Audience]


def outreach_done() -> dict[str, dict[int, date]]:
    """Return {rule id: {year: day on which the last of the list was reached}}."""
    reached = _reached()
    years = {year for days in reached.values() for year in days}
    found: dict[str, dict[int, date]] = {rule_id: {} for rule_id in DUTY_OF.values()}
    for audience, rule_id in DUTY_OF.items():
        for year in years:
            stands = _stands(audience, year, reached)
            if stands.complete and stands.last_on:
                found[rule_id][year] = stands.last_on
    return found


def _reached() -> dict[OutreachPartner, dict[int, date]]:
    """Return {partner: {year: first day reached}} of everybody on the list."""
    standing = FilteredRelation("acts", condition=Q(acts__withdrawn_at__isnull=True))
    rows = OutreachPartner.objects.standing().annotate(told=standing, told_on=F("told__done_on"))
    found: dict[OutreachPartner, dict[int, date]] = {}
    for partner in rows.order_by("name", "id", "told_on"):
        days = found.setdefault(partner, {})
        if partner.told_on:
            days.setdefault(partner.told_on.year, partner.told_on)
    return found


def _stands(audience: Audience, year: int, reached: dict) -> Reached:
    listed = [one for one in reached if one.audience == audience and one.since.year <= year]
    days = [reached[one][year] for one in listed if year in reached[one]]
    missing = tuple(one for one in listed if year not in reached[one])
    return Reached(audience, year, tuple(listed), missing, max(days, default=None))


def acts_of(year: int) -> list[OutreachAct]:
    """Return what was done in a year, latest first; what was taken back too."""
    rows = OutreachAct.objects.filter(done_on__year=year).select_related("proof")
    return list(rows.prefetch_related("partners").order_by("-done_on", "-id"))


def audiences_of(act: OutreachAct) -> dict[str, list[str]]:
    """Return {audience: names} that an act reached."""
    found = defaultdict(list)
    for partner in act.partners.all():
        found[partner.get_audience_display()].append(partner.name)
    return dict(found)
