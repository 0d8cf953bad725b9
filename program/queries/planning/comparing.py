"""Two kept plans side by side."""

from __future__ import annotations

from program.models import Plan
from program.planning.forecast import Forecast, cut_off
from program.planning.priority import default_factors
from program.planning.scenarios import PlacedArea, Scenario, ScenarioComparison, compare
from program.queries.planning.asked import PlanAsked


def compare_plans(before: Plan, after: Plan) -> ScenarioComparison:
    """Return what changes from the first plan to the second, by neighborhood and year."""
    return compare(scenario_of(before), scenario_of(after))


def scenario_of(plan: Plan) -> Scenario:
    """Return a kept plan as the comparison reads it."""
    names = ("key", "neighborhood__name", "jobs", "cost", "program_year")
    areas = plan.areas.order_by("key").values_list(*names)
    costs = {row["year"]: row["cost"] for row in plan.result.get("years", ())}
    odds = forecast_of(plan)
    return Scenario(
        tuple(PlacedArea(*area) for area in areas), costs,
        odds and odds.complies_throughout, odds and odds.finishes,
    )  # fmt: skip


def forecast_of(plan: Plan) -> Forecast | None:
    """Return a kept forecast, None where none was made."""
    kept = plan.forecast
    if "fan" not in kept:
        return None
    return Forecast(
        tuple(kept["years"]),
        tuple(kept["quantiles"]),
        tuple(tuple(row) for row in kept["fan"]),
        kept["required_rate"],
        {int(year): share for year, share in kept["complies"].items()},
        kept["complies_throughout"],
        kept["finishes"],
        kept["runs"],
        tuple(kept["mean_replaced"]),
        kept.get("due_year"),
        *(
            {int(year): share for year, share in kept.get(name, {}).items()}
            for name in ("finished_by", "short_of_money")
        ),
    )


def settings_differences(before: Plan, after: Plan) -> list[dict]:
    """Return the settings that differ, by name; of a table only the entries that do."""
    first, second = _flat(_whole(before)), _flat(_whole(after))
    return [
        {"name": name, "before": first.get(name, "none"), "after": second.get(name, "none")}
        for name in sorted({*first, *second})
        if first.get(name) != second.get(name)
    ]


def _whole(plan: Plan) -> dict:
    """A plan's settings with the starting values of what it was not asked for."""
    kept = PlanAsked.again(plan.settings).kept()
    factors = default_factors()
    return {
        **kept,
        "weights": {one.key: float(kept["weights"].get(one.key, one.weight)) for one in factors},
        "normalizations": {
            one.key: kept["normalizations"].get(one.key, one.normalization.value) for one in factors
        },
    }


def year_rows(before: Plan, after: Plan) -> list[dict]:
    """Return every program year of either plan with (before, after) of its figures."""
    names = ("crews", "jobs", "budget", "cost")
    sides = [
        # Plans drawn before years had crews of their own have one number for all.
        {row["year"]: {"crews": plan.result["crews"], **row} for row in plan.result["years"]}
        for plan in (before, after)
    ]
    rows = []
    for year in sorted({*sides[0], *sides[1]}):
        pair = [side.get(year, {}) for side in sides]
        rows.append({"year": year, **{name: [one.get(name) for one in pair] for name in names}})
    return rows


def _flat(settings: dict) -> dict[str, str]:
    """Settings in words by name; an entry of a table as `name, key`."""
    found: dict[str, str] = {}
    for name, value in settings.items():
        name = name.replace("_", " ")
        entries = value.items() if isinstance(value, dict) else [("", value)]
        if key := {"windows": "place", "seasons": "name", "funding": "source"}.get(name):
            entries = [(f"{row[key]} {number}", row) for number, row in enumerate(value, start=1)]
        for key, one in entries:
            if one is not None:
                found[f"{name}, {key}" if key else name] = _in_words(one)
    return found


def _in_words(value) -> str:
    if isinstance(value, dict):
        named = ((k, one) for k, one in value.items() if k not in ("place", "source"))
        return ", ".join(f"{key} {_in_words(one)}" for key, one in named if one not in ("", []))
    if isinstance(value, list):
        return " ".join(map(str, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:,.0f}" if value == int(value) else f"{value:g}"
    return str(value)


def odds_rows(found: ScenarioComparison) -> list[tuple[str, str, str]]:
    """Return (what, before, after) of the probabilities, cut off to whole percent."""
    pairs = (
        ("Holds the required rate throughout", found.before.complies, found.after.complies),
        ("Finished by the deadline", found.before.finishes, found.after.finishes),
    )
    return [(label, _percent(first), _percent(second)) for label, first, second in pairs]


def _percent(share: float | None) -> str:
    return "no forecast" if share is None else cut_off(share)
