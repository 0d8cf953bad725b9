"""The next steps of a plan as its page ranks them, by what they add to the odds for a dollar."""

from __future__ import annotations

from datetime import date

from program.models import Plan
from program.planning.defaults import Default, default, planning_defaults
from program.planning.forecast.steps import Effects, ranked

# What a dollar figure is entered for, and the starting value of it (None: a setting of the plan).
UNITS: dict[str, tuple[str, str | None]] = {
    "inspection": ("One inspection, $", None),
    "owner": ("Asking one owner, $", "ask_owner_dollars"),
    "crew-year": ("One more crew for a year, $", "crew_year_dollars"),
    "closure": ("Lifting or putting off one closure, $", "defer_work_dollars"),
}
PER = 10_000


def starting_dollars(plan: Plan) -> dict[str, float]:
    """Return the dollars of each unit that the page begins with."""
    own = plan.settings["cost_per_inspection"]
    return {unit: default(key) if key else own for unit, (_, key) in UNITS.items()}


def marked_defaults() -> list[Default]:
    """Return the starting values of ours, each with its mark and source."""
    return [planning_defaults()[key] for _, key in UNITS.values() if key is not None]


def steps_ranked(plan: Plan, dollars: dict[str, float]) -> dict | None:
    """Return the steps that were tried, the best for a dollar first; None where none were.

    dollars : by unit, above 0
    """
    kept = plan.result.get("next_steps")
    if kept is None:
        return None
    steps = kept["steps"]
    costs = [dollars[step["unit"]] * step["number"] for step in steps]
    found = ranked(Effects(kept["points"], kept["covariance"]), costs)
    areas = dict(plan.areas.values_list("key", "pk"))
    rows = [
        {
            **steps[row.index],
            "index": row.index,
            "rank": row.rank,
            "points": round(row.points, 1),
            "error": round(row.error, 1),
            "cost": costs[row.index],
            "for_dollars": PER * row.a_dollar,
            "area_pk": areas.get(steps[row.index]["area"]),
            "seen": row.seen,
        }
        for row in found
    ]
    for row in rows:
        row["tied"] = row["seen"] and sum(one["rank"] == row["rank"] for one in rows) > 1
    return {
        **kept,
        "on": date.fromisoformat(kept["on"]),
        "rows": [row for row in rows if row["seen"]],
        "unseen": [row for row in rows if not row["seen"]],
        "sentence": _sentence(kept, rows),
    }


def _sentence(kept: dict, rows: list[dict]) -> str:
    odds = (
        "Without any of them the plan holds every assessment and has all lines replaced in time "
        f"in {kept['without']} of {kept['runs']:,} runs."
    )
    best = next((row for row in rows if row["seen"]), None)
    if best is None:
        return f"{odds} No step that was tried changes that by more than the runs' own noise."
    also = " (others can't be told from it)" if best["tied"] else ""
    return (
        f"{odds} Most for a dollar{also}: {best['sentence']} It adds {best['points']:.1f} points "
        f"for ${best['cost']:,.0f}."
    )
