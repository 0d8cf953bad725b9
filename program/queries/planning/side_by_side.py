"""Up to five kept plans side by side: pictures to the same scales, what differs in words."""

from __future__ import annotations

from collections.abc import Sequence

from program.models import Plan
from program.planning.forecast import Forecast, cut_off
from program.queries.planning.comparing import forecast_of, settings_differences

MOST = 5
_TOLD = 4  # settings that a sentence names


def plans_chosen(numbers: Sequence[int]) -> list[Plan]:
    """Return the plans asked for, at most five, in that order; else the adopted and the latest."""
    if numbers:
        found = Plan.objects.in_bulk(list(numbers))
        return [found[pk] for pk in dict.fromkeys(numbers) if pk in found][:MOST]
    rows = Plan.objects.order_by("-id")
    adopted = list(rows.filter(state=Plan.State.ADOPTED))
    return (adopted + list(rows.exclude(state=Plan.State.ADOPTED)[:MOST]))[:MOST]


def side_by_side(plans: Sequence[Plan]) -> dict:
    """Return a column a plan, and the scales that they share."""
    columns = [_column(plan, plans[0]) for plan in plans]
    fans = [column["forecast"] for column in columns if column["forecast"]]
    years = sorted({row["year"] for column in columns for row in column["years"]})
    return {
        "columns": columns,
        "years": years,
        "scale": _scale(fans),
        "most": max((row["cost"] for column in columns for row in column["years"]), default=0),
        "box": _box([spot for column in columns for spot in column["spots"]]),
    }


def _column(plan: Plan, first: Plan) -> dict:
    rows = plan.areas.filter(latitude__isnull=False, program_year__isnull=False).order_by("key")
    odds, ends = plan.forecast.get("complies_throughout"), plan.forecast.get("finishes")
    years = plan.result.get("years", ())
    return {
        "plan": plan,
        "years": years,
        "cost": sum(row["cost"] for row in years),
        "last_year": max((row["year"] for row in years if row["areas"]), default=None),
        "odds": None if odds is None else cut_off(odds),
        "finishes": None if ends is None else cut_off(ends),
        "forecast": forecast_of(plan),
        "spots": list(rows.values_list("longitude", "latitude", "program_year", "jobs")),
        "differs": "" if plan == first else _differs(first, plan),
    }


def _differs(first: Plan, plan: Plan) -> str:
    """What the plan is asked otherwise than the first, in a sentence."""
    found = [
        row
        for row in settings_differences(first, plan)
        if row["name"] not in ("based on", "keep published", "runs", "seed", "policy")
    ]
    if not found:
        return f"Asked the same as {first.name}, on the record of another day or by hand."
    told = [f"{row['name']} {row['after']}, not {row['before']}" for row in found[:_TOLD]]
    more = len(found) - _TOLD
    rest = f"; and {more} more" if more > 0 else ""
    return f"Other than {first.name}: {'; '.join(told)}{rest}."


def _scale(fans: Sequence[Forecast]) -> tuple[float, float] | None:
    """The lowest and highest rates of all fans and requirements."""
    figures = [rate for fan in fans for row in fan.fan for rate in row]
    figures += [fan.required_rate for fan in fans]
    return (min(figures), max(figures)) if figures else None


def _box(spots) -> tuple[float, float, float, float] | None:
    if not spots:
        return None
    lons, lats = [spot[0] for spot in spots], [spot[1] for spot in spots]
    return min(lons), min(lats), max(lons), max(lats)
