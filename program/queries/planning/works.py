"""Planned paving and main works in force, and the lines near them under a plan."""

from __future__ import annotations

from datetime import date

from django.utils.dateparse import parse_date

from program.domain.calendar import program_year
from program.models import Plan
from program.planning.defaults import default
from program.planning.digging import Timing, near_works
from program.rules import rules_in_force
from services_inventory.models import Batch

from .census import files_taken_in
from .pool import CHUNK, OPEN

_AT_ONCE = 20_000  # lines of a plan that its own page looks at
WORD = {"PAVING": "paving", "MAIN": "main work", "CLOSED": "closed block faces"}


def works_files() -> list[dict]:
    """Return every file of works, the newest first, with what became of it."""
    return [
        {
            **row,
            "kind": WORD.get(row["batch"].parameters.get("works", ""), "work"),
            "number": len(row["batch"].result.get("works", ()))
            or row["batch"].counts.get("works", 0),
        }
        for row in files_taken_in("WORKS")
    ]


def works_in_force() -> list[dict]:
    """Return the works of all files that stand, by their first day."""
    rows = Batch.objects.filter(kind="WORKS", state="APPLIED").order_by("id")
    found = [
        {"kind": batch.parameters.get("works", ""), "name": name, "wkt": wkt,
         "first": parse_date(first), "last": parse_date(last)}
        for batch in rows
        if "taken_back_by" not in batch.result
        for name, first, last, wkt in batch.result.get("works", ())
    ]  # fmt: skip
    return sorted(found, key=lambda work: (work["first"], work["name"]))


def opportunities(plan: Plan, feet: float, saved: float, as_of: date) -> dict | None:
    """Return the works still to come with the plan's open lines near them; None where none is.

    Parameters
    ----------
    feet : how near a line is to be
    saved : US dollars for each line replaced in the program year of the work
    """
    works = [work for work in works_in_force() if work["last"] >= as_of]
    if not works:
        return None
    lines = list(_lines(plan))
    lons, lats = [row[2] for row in lines], [row[1] for row in lines]
    near = _near(lons, lats, [work["wkt"] for work in works], feet)
    rows = [_row(work, [lines[k] for k in one.lines], saved) for work, one in near(works)]
    told = [row for row in rows if row["lines"]]
    return {
        "rows": told,
        "without": len(rows) - len(told),
        "together": sum(row["timing"].together for row in told),
        "missed": sum(row["missed"] for row in told),
        "saves": sum(row["saves"] for row in told),
        "could_save": sum(row["could_save"] for row in told),
        "sentence": _sentence(told),
    }


def digging_of(plan: Plan, as_of: date) -> dict | None:
    """Return the opportunities by the starting figures, for the plan's own page.

    A large plan only says that works are known, as looking takes a while.
    """
    works = [work for work in works_in_force() if work["last"] >= as_of]
    if works and plan.area_lines.count() > _AT_ONCE:
        known = "work is" if len(works) == 1 else "works are"
        told = f"{len(works):,} planned {known} known: see which of this plan's lines lie near."
        return {"sentence": told, "missed": 0}
    return opportunities(plan, default("near_work_feet"), default("saved_a_line_dollars"), as_of)


def _near(lons, lats, shapes, feet: float):
    import numpy as np

    found = near_works(np.array(lons, dtype=float), np.array(lats, dtype=float), shapes, feet)
    return lambda works: zip(works, found, strict=True)


def _lines(plan: Plan):
    """Yield (id, latitude, longitude, program year, area key, area) of the plan's open lines."""
    rows = plan.area_lines.filter(
        line__category__in=OPEN, line__premise__latitude__isnull=False,
        line__premise__longitude__isnull=False,
    )  # fmt: skip
    yield from rows.order_by("line_id").values_list(
        "line_id", "line__premise__latitude", "line__premise__longitude",
        "area__program_year", "area__key", "area_id",
    ).iterator(CHUNK)  # fmt: skip


def _row(work: dict, lines: list[tuple], saved: float) -> dict:
    rules = rules_in_force()
    years = program_year(work["first"], rules) or 1, program_year(work["last"], rules) or 1
    timing, areas = Timing(), {}
    for _, _, _, year, key, area in lines:
        timing.count(year, years, key)
        if key in timing.areas_after:
            areas[key] = area
    # Work before paving costs nothing more; before a main is renewed the street opens twice.
    missed = timing.after + timing.unplanned + (timing.before if work["kind"] == "MAIN" else 0)
    return {
        **work,
        "word": WORD.get(work["kind"], "work"),
        "years": years,
        "lines": len(lines),
        "timing": timing,
        "areas": sorted(areas.items()),
        "missed": missed,
        "saves": timing.together * saved,
        "could_save": missed * saved,
    }


def _sentence(rows: list[dict]) -> str:
    if not rows:
        return "No open line of this plan lies near planned paving or main work."
    lines = sum(row["lines"] for row in rows)
    together = sum(row["timing"].together for row in rows)
    missed = [row for row in rows if row["missed"]]
    told = (
        f"{lines:,} open {'line lies' if lines == 1 else 'lines lie'} near {len(rows):,} planned "
        f"{'work' if len(rows) == 1 else 'works'}; this plan replaces "
        f"{together:,} of them in the year of the work."
    )
    if not missed:
        return f"{told} It ignores none."
    after = sum(row["timing"].after for row in rows)
    names = ", ".join(row["name"] for row in missed[:3])
    more = f" and {len(missed) - 3} more" if len(missed) > 3 else ""
    return (
        f"{told} It ignores {names}{more}: {sum(row['missed'] for row in missed):,} lines, "
        f"{after:,} of them after the work, when the street is opened again."
    )
