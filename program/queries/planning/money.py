"""A kept plan's money: which source pays for which year, what is left, what none may pay."""

from __future__ import annotations

from django.db.models import Sum

from program.models import Plan
from program.planning.funding import ANYWHERE, KINDS, Source, paid_by
from program.queries.planning.asked import PlanAsked


def money_of(plan: Plan) -> list[dict]:
    """Return every program year that has sources, with what each of them pays.

    `short` is what no source may pay: the sources are too small, or bound to other places.
    """
    asked = PlanAsked.again(plan.settings)
    if not asked.funding:
        return []
    costs: dict[int, dict[str, float]] = {}
    rows = plan.areas.filter(program_year__isnull=False).order_by("program_year")
    for year, hood, cost in rows.values_list("program_year", "neighborhood__name").annotate(
        cost=Sum("cost")
    ):
        costs.setdefault(year, {})[hood or ANYWHERE] = cost
    return [
        _year(asked, row, costs.get(row["year"], {}))
        for row in plan.result.get("years", ())
        if any(row["year"] in one["years"] for one in asked.funding)
    ]


def _year(asked: PlanAsked, row: dict, costs: dict[str, float]) -> dict:
    looking = row["inspections"] * asked.cost_per_inspection
    sources = [
        Source(
            one["source"], one["kind"], one["dollars"], tuple(one.get("places") or ()),
            one.get("condition") or "",
        )
        for one in asked.funding
        if row["year"] in one["years"]
    ]  # fmt: skip
    paid, short = paid_by({**costs, ANYWHERE: costs.get(ANYWHERE, 0.0) + looking}, sources)
    return {
        "year": row["year"],
        "cost": sum(costs.values()) + looking,
        "paid": [{"row": one, "kind": KINDS[one.source.kind]} for one in paid],
        "short": short,
    }


def money_rows(plan: Plan) -> list[tuple]:
    """Return the table as a file has it."""
    return [
        (
            year["year"], one["row"].source.name, one["kind"], one["row"].source.dollars,
            one["row"].spent, one["row"].left, ", ".join(one["row"].source.places),
            one["row"].source.condition,
        )
        for year in money_of(plan)
        for one in year["paid"]
    ]  # fmt: skip
