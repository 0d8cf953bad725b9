"""Rows of work areas taken out, put in their place, and put back as they were."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from program.models import Plan, PlanArea, PlanAreaLine, PlanEdit
from program.planning.work_areas import PoolLine, WorkArea
from services_inventory.models import ServiceLine

_KEPT = (
    "key", "name", "neighborhood_id", "jobs", "lead", "grr", "unknown", "cost", "score",
    "score_parts", "program_year", "crew", "order_in_year", "starts_on", "ends_on", "locked",
    "closed", "latitude", "longitude",
)  # fmt: skip
_COUNTED = ("LEAD", "GRR", "UNKNOWN")


def kept_rows(areas: Sequence[PlanArea]) -> list[dict]:
    """Return the areas as JSON, each with the ids of its lines."""
    lines = _line_ids(areas)
    return [
        {
            **{name: _plain(getattr(area, name)) for name in _KEPT},
            "lines": lines.get(area.pk, []),
        }
        for area in areas
    ]


def _plain(value):
    return value.isoformat() if hasattr(value, "isoformat") else value


def _line_ids(areas: Sequence[PlanArea]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    rows = PlanAreaLine.objects.filter(area__in=areas).order_by("line_id")
    for area, line in rows.values_list("area_id", "line_id"):
        found.setdefault(area, []).append(line)
    return found


def put_back(plan: Plan, edit: PlanEdit) -> None:
    """Put the areas of a change back in the place of those it made."""
    plan.areas.filter(key__in=edit.made).delete()
    for row in edit.before:
        area = PlanArea.objects.create(plan=plan, **{name: row[name] for name in _KEPT})
        _fill(area, row["lines"])


def _fill(area: PlanArea, line_ids: list[int]) -> None:
    rows = (PlanAreaLine(plan_id=area.plan_id, area=area, line_id=pk) for pk in line_ids)
    PlanAreaLine.objects.bulk_create(rows, batch_size=2_000)


def lines_with_area(areas: Sequence[PlanArea]) -> tuple[list[PoolLine], list[WorkArea]]:
    """Return the lines of some areas, and the areas in their order, as the grouping reads them."""
    rows = (
        PlanAreaLine.objects.filter(area__in=areas)
        .order_by("line__location_id")
        .values_list(
            "area_id", "line__location_id", "line__premise__street_key",
            "line__premise__house_number", "line__premise__latitude", "line__premise__longitude",
        )
    )  # fmt: skip
    own: dict[int, list[tuple]] = {}
    for area_id, *row in rows:
        own.setdefault(area_id, []).append(tuple(row))
    lines, found = [], []
    for area in areas:
        hood = area.neighborhood.name if area.neighborhood else ""
        members = own.get(area.pk, [])
        lines += [
            PoolLine(pk, street, number, hood, lat, lon) for pk, street, number, lat, lon in members
        ]
        ids = tuple(row[0] for row in members)
        found.append(
            WorkArea(
                area.key, area.name, hood, ids, area.latitude, area.longitude, locked=area.locked
            )
        )
    return lines, found


def replaced_by(
    plan: Plan, olds: Sequence[PlanArea], parts: Sequence[tuple[WorkArea, PlanArea]]
) -> list[PlanArea]:
    """Put new areas in the place of old ones; every line's jobs and money go with it.

    The chances of unknown lines are shared out evenly within each old area until the plan is
    drawn again.

    Parameters
    ----------
    parts : each new area with the old one whose year, crew and score it takes
    """
    worth: dict[str, tuple[int, str, float, float]] = {}
    for old in olds:
        worth |= _worth(old)
    PlanArea.objects.filter(pk__in=[old.pk for old in olds]).delete()
    made = []
    for part, base in parts:
        area = PlanArea.objects.create(plan=plan, **_row(part, base, worth))
        _fill(area, [worth[line_id][0] for line_id in part.line_ids])
        made.append(area)
    return made


def _worth(area: PlanArea) -> dict[str, tuple[int, str, float, float]]:
    """Return (line, category, jobs, money) by location id for an area's lines."""
    expected = area.score_parts.get("expected", 0.0)
    per_unknown = expected / area.unknown if area.unknown else 0.0
    own = ServiceLine.objects.filter(pk__in=area.lines.values("line_id"))
    rows = [
        (name, pk, category or "")
        for name, pk, category in own.values_list("location_id", "pk", "category")
    ]
    jobs = {"LEAD": 1.0, "GRR": 1.0, "UNKNOWN": per_unknown}
    whole = sum(jobs.get(category, 0.0) for _, _, category in rows)
    per_job = area.cost / whole if whole else 0.0
    return {
        name: (pk, category, jobs.get(category, 0.0), jobs.get(category, 0.0) * per_job)
        for name, pk, category in rows
    }


def _row(part: WorkArea, base: PlanArea, worth: dict[str, tuple]) -> dict:
    own = [worth[line_id] for line_id in part.line_ids]
    counts = {c: sum(category == c for _, category, _, _ in own) for c in _COUNTED}
    jobs = sum(count for _, _, count, _ in own)
    was = base.score_parts
    before = base.lead + base.grr + was.get("expected", 0.0)
    weight = was.get("priority", 0.0) / before if before else 0.0
    return {
        "key": part.id[:80],
        "name": part.name[:160],
        "neighborhood_id": base.neighborhood_id,
        "jobs": max(1, ceil(jobs - 1e-9)),
        "lead": counts["LEAD"],
        "grr": counts["GRR"],
        "unknown": counts["UNKNOWN"],
        "cost": round(sum(money for _, _, _, money in own), 2),
        "score": base.score,
        "score_parts": {
            **was,
            "expected": round(jobs - counts["LEAD"] - counts["GRR"], 2),
            "priority": round(weight * jobs, 3),
            "small": False,
        },
        "program_year": base.program_year,
        "crew": base.crew,
        "closed": base.closed,
        "latitude": part.lat,
        "longitude": part.lon,
    }
