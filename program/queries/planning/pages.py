"""What the pages of a plan show: areas, shapes, points, what became of it since."""

from __future__ import annotations

from collections import Counter
from datetime import date

from django.db.models import Count, F, Q

from program.models import Plan, PlanArea
from program.planning.forecast import cut_off
from program.planning.geometry import outline
from program.planning.priority import default_factors
from program.queries.planning.pool import CHUNK, OPEN
from program.queries.replacements import full_in, kinds_by_year
from services_inventory.domain.classification import Category
from services_inventory.models import ServiceLine


def plans_shown(limit: int = 40) -> list[Plan]:
    """Return the latest plans, the adopted one first, each with its totals as `shown`."""
    rows = Plan.objects.order_by("-id")
    found = list(rows.filter(state=Plan.State.ADOPTED))
    found += rows.exclude(state=Plan.State.ADOPTED)[:limit]
    for plan in found:
        plan.shown = _totals(plan)
    return found


def _totals(plan: Plan) -> dict:
    years = plan.result.get("years", ())
    complies = plan.forecast.get("complies_throughout")
    return {
        **{key: sum(row[key] for row in years) for key in ("areas", "jobs", "cost")},
        "last_year": max((row["year"] for row in years if row["areas"]), default=None),
        "odds": "" if complies is None else cut_off(complies),
    }


def areas_of(plan: Plan, hood: int | None = None) -> list[PlanArea]:
    """Return the plan's areas, or those of one neighborhood, by year, crew and order."""
    areas = plan.areas.select_related("neighborhood")
    if hood is not None:
        areas = areas.filter(neighborhood_id=hood)
    return list(
        areas.order_by(F("program_year").asc(nulls_last=True), "crew", "order_in_year", "key")
    )


def shapes_of(plan: Plan, hood: int | None = None) -> dict:
    """Return areas as GeoJSON outlines with their year, crew and jobs; all or a neighborhood's."""
    spots: dict[int, list[tuple[float, float]]] = {}
    areas = areas_of(plan, hood)
    rows = plan.area_lines.filter(line__premise__latitude__isnull=False)
    if hood is not None:
        rows = rows.filter(area__neighborhood_id=hood)
    places = rows.values_list("area_id", "line__premise__latitude", "line__premise__longitude")
    for area_id, lat, lon in places.iterator(CHUNK):
        spots.setdefault(area_id, []).append((lat, lon))
    features = [
        {
            "type": "Feature",
            "id": area.pk,
            "properties": {
                "key": area.key,
                "name": area.name,
                "year": area.program_year,
                "crew": area.crew,
                "jobs": area.jobs,
                "locked": area.locked,
            },
            "geometry": {
                "type": "Polygon",
                "coordinates": [
                    [[round(lon, 6), round(lat, 6)] for lat, lon in outline(spots[area.pk])]
                ],
            },
        }
        for area in areas
        if area.pk in spots
    ]
    return {"type": "FeatureCollection", "features": features}


def lines_of(area: PlanArea) -> list[dict]:
    """Return the area's lines with their category today, by street and number."""
    rows = (
        ServiceLine.objects.filter(pk__in=area.lines.values("line_id"))
        .order_by("premise__street_key", "premise__house_number", "location_id")
        .values("id", "location_id", "category", address=F("premise__address"))
    )
    return [{**row, "word": Category(row["category"]).label} for row in rows]


def priority_table(plan: Plan) -> dict:
    """Return every neighborhood's points, opened into what each factor adds, by rank."""
    rows = plan.result.get("priority", ())
    factors = [f for f in default_factors() if any(f"{f.key}_points" in row for row in rows)]
    return {
        "labels": [factor.label for factor in factors],
        "rows": [
            {
                "place": row["place"],
                "rank": row["rank"],
                "points": row["points"],
                "parts": [(factor.label, row.get(f"{factor.key}_points", 0)) for factor in factors],
            }
            for row in rows
        ],
    }


def score_parts(area: PlanArea) -> list[tuple[str, float]]:
    """Return what each factor adds to the score of the area's neighborhood, the most first."""
    labels = {factor.key: factor.label for factor in default_factors()}
    parts = area.score_parts.get("neighborhood", {})
    return sorted(
        ((labels.get(key, key), points) for key, points in parts.items()), key=lambda one: -one[1]
    )


SAFE = 0.9


def _odds_of(plan: Plan, year: int) -> dict:
    """Return the odds that a year's average is held, in words, and whether nine in ten runs do."""
    share = plan.forecast.get("complies", {}).get(str(year))
    return {"odds": "" if share is None else cut_off(share), "safe": share is None or share >= SAFE}


def since(plan: Plan, as_of: date) -> dict:
    """Return how the record differs from the plan by now: what is done, new, and settled."""
    kept, still = plan.area_lines, Q(line__category__in=OPEN)
    counts = kept.aggregate(planned=Count("id"), still_open=Count("id", filter=still))
    unplaced = sum(len(lines) for lines in plan.result["left_out"].values())
    now_open = ServiceLine.objects.filter(category__in=OPEN).count()
    replaced = kinds_by_year(as_of)
    years = [
        {
            **row,
            "done": full_in(replaced.get(row["year"], Counter())),
            **_odds_of(plan, row["year"]),
        }
        for row in plan.result.get("years", ())
    ]
    return {
        "years": years,
        "settled": counts["planned"] - counts["still_open"],
        "new": max(0, now_open - counts["still_open"] - unplaced),
        **counts,
    }
