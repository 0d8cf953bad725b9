"""Sampling tiers: how many sites each tier has, why, and which they are."""

from django.http import Http404
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.queries.sampling_sites import SHOWN, first_sites, site_rows, sites_by_tier
from program.rules import rules_in_force
from services_inventory.domain.classification import Category
from services_inventory.domain.materials import Connector
from services_inventory.given import number_given
from services_inventory.models.places import PLUMBINGS, PremiseKind
from services_inventory.sending import csv_answer

from .permitted import Permitted

TIERS = {
    1: "Single-family structures with a lead service line or lead plumbing",
    2: "Buildings, multi-family included, with a lead service line or lead plumbing",
    3: "A lead connector, or galvanized pipe that is or was downstream of lead",
    4: "Copper plumbing with lead solder from before the lead ban",
    5: "Sites that stand for materials common in the system",
}
COLUMNS = (
    "tier", "location_id", "address", "building", "category", "connector", "plumbing_inside",
    "plumbing_year", "treatment", "galvanized_below_former_lead", "reason",
)  # fmt: skip


class TierListView(Permitted, TemplateView):
    """Every tier with its number of sites and the reasons; the sites of one tier."""

    template_name = "program/tier_list.html"

    def get_context_data(self, **kwargs):
        found = sites_by_tier(today(), rules_in_force())
        level = number_given(self.request.GET.get("tier"), "Tier")
        if level is not None and level not in TIERS:
            raise Http404
        return super().get_context_data(
            tiers=[
                {"level": n, "text": t, "number": found.number(n), "reasons": found.by_reason(n)}
                for n, t in TIERS.items()
            ],
            none={"number": found.number(None), "reasons": found.by_reason(None)},
            found=found,
            common=sorted(pipes.label for pipes in found.common),
            level=level,
            sites=_worded(first_sites(found, level)) if level else [],
            shown=SHOWN,
            **kwargs,
        )


def _worded(rows) -> list[dict]:
    kinds, pipes = dict(PremiseKind.choices), dict(PLUMBINGS)
    return [
        {
            "location": location,
            "address": address,
            "kind": kinds.get(facts[0], facts[0]),
            "code": facts[1],
            "category": Category(facts[1]).label,
            "connector": Connector(facts[2]).label,
            "plumbing": pipes.get(facts[3], ""),
            "year": facts[4],
        }
        for location, address, *facts in rows
    ]


class TierCsvView(Permitted, View):
    """One tier's sites as a file."""

    def get(self, request, level):
        if level not in TIERS:
            raise Http404
        found = sites_by_tier(today(), rules_in_force())
        name = f"sampling-tier-{level}-{today()}"
        return csv_answer(name, COLUMNS, site_rows(found, level))
