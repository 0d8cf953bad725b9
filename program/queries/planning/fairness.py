"""Who waits how long under a kept plan, by quarter of one of the figures that it ranks by."""

from __future__ import annotations

from datetime import date

from program.domain.calendar import program_year_bounds
from program.models import Plan
from program.planning.fairness import PlacedLines, Quarter, quarters, sentence
from program.planning.priority import Factor, default_factors
from program.rules import rules_in_force

FIRST = "need_index"


def factors_known(plan: Plan) -> list[Factor]:
    """Return the factors that some neighborhood of the plan has a figure for."""
    rows = plan.result.get("priority", ())
    return [
        factor
        for factor in default_factors()
        if any(row.get(f"{factor.key}_divided") is not None for row in rows)
    ]


def fairness_of(plan: Plan, key: str = "") -> dict | None:
    """Return the quarters by a factor (the supplied index if it is there), and what they say.

    None where no neighborhood has any figure.
    """
    factors = factors_known(plan)
    chosen = next((factor for factor in factors if factor.key == (key or FIRST)), None)
    chosen = chosen or next(iter(factors), None)
    if chosen is None:
        return None
    index = {row["place"]: row[f"{chosen.key}_divided"] for row in plan.result["priority"]}
    found = quarters(_areas(plan), index, high_first=chosen.high_first)
    return {
        "factor": chosen,
        "factors": factors,
        "quarters": found,
        "years": sorted({year for row in found for year in row.by_year}),
        "sentence": sentence(found, chosen.label),
        "longest": max((row.mean_days or 0 for row in found), default=0),
    }


def _areas(plan: Plan):
    rows = plan.areas.values_list(
        "neighborhood__name", "lead", "grr", "score_parts", "program_year", "ends_on"
    )
    ends: dict[int, date] = {}
    for name, lead, grr, parts, year, end in rows:
        if year and not end and year not in ends:
            ends[year] = program_year_bounds(year, rules_in_force())[1]
        last = end or ends.get(year or 0)
        days = (last - plan.drawn_on).days if year and last else None
        yield PlacedLines(name or "", lead + grr + parts.get("expected", 0), days, year)


def fairness_rows(found: dict) -> list[tuple]:
    """Return the table as a file has it: one row a neighborhood's quarter."""
    return [
        (
            row.label,
            "; ".join(
                place if figure is None else f"{place} ({figure:g})" for place, figure in row.places
            ),
            round(row.lines, 1),
            None if row.years is None else round(row.years, 2),
            None if row.longest_years is None else round(row.longest_years, 2),
            *(round(row.by_year.get(year, 0.0), 1) for year in found["years"]),
        )
        for row in found["quarters"]
    ]


def shares_by_year(row: Quarter, years: list[int]) -> list[tuple[int, float, int]]:
    """Return (year, lines, percent of the quarter's lines replaced by its end)."""
    told, done = [], 0.0
    for year in years:
        done += row.by_year.get(year, 0.0)
        told.append((year, row.by_year.get(year, 0.0), int(100 * done / row.lines + 1e-9)))
    return told if row.lines else []
