"""What a drawn plan says, as its row keeps it: years, neighborhoods, unknown lines, notes."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from datetime import date

from program.operations.plans.case import Draft
from program.planning.defaults import default
from program.planning.priority import export_rows
from program.planning.solver import Plan as Drawn
from program.planning.solver.relaxation import clash

_INFEASIBLE, _NOTHING = "INFEASIBLE", "NONE"


def result_of(draft: Draft, drawn: Drawn, as_of: date) -> dict:
    """Return years, neighborhoods, unknown lines, clashes and notes as JSON."""
    return {
        "as_of": as_of.isoformat(),
        "crews": max(draft.crews[year.year] for year in draft.horizon.years),
        "required_rate": float(draft.horizon.deadline.rate),
        "deadline": draft.horizon.deadline.last_day.isoformat(),
        "first_assessed_year": draft.horizon.first_assessed_year,
        "past_rates": [float(rate) for rate in draft.horizon.past_rates],
        "status": drawn.status,
        "objective": drawn.objective,
        "bound": drawn.bound,
        "gap": drawn.gap,
        "work": drawn.work,
        "openings": drawn.openings,
        "kept": drawn.kept,
        "published": drawn.published,
        "notes": [*drawn.notes, *_idle(draft, drawn), *draft.notes],
        "clash": _why_none(drawn),
        "relaxations": [asdict(one) for one in drawn.relaxations],
        "years": _years(draft, drawn),
        "neighborhoods": _neighborhoods(draft, drawn),
        "priority": export_rows(
            sorted((p.score for p in draft.places.values()), key=lambda score: score.rank)
        ),
        "unknowns": _unknowns(draft),
        "left_out": {
            "without_coordinates": list(draft.grouping.without_coordinates),
            "without_neighborhood": list(draft.grouping.without_neighborhood),
        },
        "verdict": draft.verdict,
        "unplaced": _unplaced(draft),
        "by_hand": [],
    }


def _unplaced(draft: Draft) -> str:
    """One sentence on the open lines that are in no area; none where every one is in one."""
    lost, every = len(draft.grouping.unplaced), len(draft.lines)
    if not lost:
        return ""
    nowhere, outside = draft.grouping.without_coordinates, draft.grouping.without_neighborhood
    told = (
        f"{lost:,} of {every:,} open lines ({lost / every:.1%}) are in no area of this plan: "
        f"{len(nowhere):,} without a position, {len(outside):,} outside every boundary."
    )
    if draft.verdict:
        return told
    most = default("unplaced_share_most")
    return (
        f"{told} While more than {most:.0%} are in none, nothing is said here about the rule, and "
        "the plan isn't held to it: place these lines first."
    )


def _idle(draft: Draft, drawn: Drawn):
    """Sentences on crews left with less than half of their share of a year's jobs."""
    jobs = {area.id: area.jobs for area in draft.case.areas}
    loads: dict[int, Counter] = {}
    for one in drawn.placements:
        loads.setdefault(one.year, Counter())[one.crew] += jobs[one.area_id]
    for year in draft.case.years:
        load, room = loads.get(year.year, Counter()), [sum(crew) for crew in year.crew_jobs]
        for crew, most in enumerate(room, start=1):
            if not load or 2 * load[crew] * sum(room) >= most * load.total():
                continue
            days = int((most - load[crew]) / draft.asked.jobs_a_day)
            has = (
                f"has {load[crew]:,} of the {load.total():,} jobs" if load[crew] else "has no work"
            )
            yield (
                f"Program year {year.year}: crew {crew} {has} and is idle for about {days:,} of "
                "its days: as few crews as possible work in each neighborhood. Plan the year with "
                "fewer crews, or use these days elsewhere."
            )


def _why_none(drawn: Drawn) -> str:
    if drawn.status == _INFEASIBLE:
        return clash(drawn.relaxations)
    if drawn.status == _NOTHING:
        return "No plan was found within the limits, and none was proven impossible."
    return ""


def _years(draft: Draft, drawn: Drawn) -> list[dict]:
    days = {year.year: year for year in draft.horizon.years}
    return [
        {
            "year": row.year,
            "first_day": days[row.year].first_day.isoformat(),
            "last_day": days[row.year].last_day.isoformat(),
            "areas": row.areas,
            "jobs": row.jobs,
            "capacity": row.capacity,
            "inspections": days[row.year].unknown,
            "cost": row.cost + days[row.year].unknown * draft.asked.cost_per_inspection,
            "crews": draft.crews[row.year],
            "budget": draft.asked.budget_in(row.year),
            "replacements": round(row.replacements, 2),
            "already_replaced": days[row.year].already_replaced,
            "pool": row.pool,
            "annual_rate": float(row.annual_rate),
            "cumulative_rate": float(row.cumulative_rate),
            "assessed": row.assessed,
            "meets": row.meets if draft.verdict else None,
        }
        for row in drawn.years
    ]


def _neighborhoods(draft: Draft, drawn: Drawn) -> list[dict]:
    year_of = drawn.year_of()
    cost = {area.id: area.cost for area in draft.case.areas}
    rows = []
    for place in sorted(draft.places.values(), key=lambda p: (p.score.rank, p.facts.name)):
        own = [a.id for a in draft.grouping.areas if a.neighborhood == place.facts.name]
        years = [year_of[area] for area in own if area in year_of]
        rows.append(
            {
                "id": place.facts.id,
                "name": place.facts.name,
                "lead": place.lead,
                "grr": place.grr,
                "unknown": place.unknown,
                "expected": round(place.expected, 2),
                "expected_low": place.expected_low,
                "expected_high": place.expected_high,
                "sensitive": place.sensitive,
                "points": round(place.score.points, 2),
                "rank": place.score.rank,
                "areas": len(own),
                "cost": sum(cost[area] for area in own)
                + place.unknown * draft.asked.cost_per_inspection,
                "first_year": min(years, default=None),
                "last_year": max(years, default=None),
            }
        )
    return rows


def _unknowns(draft: Draft) -> dict:
    found = draft.unknown.comparison
    return {
        "sentences": list(draft.unknown.sentences),
        "lines": len(draft.unknown.chances),
        "expected": round(sum(draft.unknown.chances.values()), 2),
        "comparison": asdict(found) if found else None,
    }
