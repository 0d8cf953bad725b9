"""Freezing the replacement pool of each program year, once, with its line list."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.timezone import localdate

from program.domain.calendar import program_year, program_year_bounds
from program.domain.replacement_pool import (
    IN_POOL,
    CategoryStep,
    PoolMovement,
    PoolSnapshot,
    movement,
    next_snapshot,
    pool_basis,
)
from program.models import PoolFreeze, PoolLine
from program.queries.pools import category_steps, frozen_line_ids, late_steps, replaced_on
from program.rules import rules_in_force
from services_inventory import bulk
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Rules
from services_inventory.domain.validation import pool_digest
from services_inventory.models import ServiceLine
from services_inventory.queries.counts import categories_on
from services_inventory.refused import Refused

CHUNK = 5_000
FOUND = "FOUND"
POOL = "POOL"


def pool_freeze(
    *, program_year: int, by: str, at: datetime, baseline_day: date | None = None
) -> PoolFreeze:
    """Freeze the pool of a program year as known at a moment; frozen already, return that one.

    Program year 1 holds every lead, GRR and unknown line at the start of its first day; each
    later one the lines of the year before, plus those found lead or GRR, less the unknown ones
    found non-lead. `baseline_day`: for year 1, the later day within it on which the baseline
    inventory was in the record.

    Raises
    ------
    Refused: the year has not begun, the year before is not frozen, or no line is on record.
    """
    frozen = PoolFreeze.objects.filter(program_year=program_year).first()
    if frozen:
        return frozen
    rules = rules_in_force(at)
    first, last = _bounds(program_year, rules)
    day = baseline_day or first
    if not first <= day <= last or (day > first and program_year > 1):
        raise Refused(f"{day_told(day)} is not a day for the pool of program year {program_year}.")
    if localdate(at) < day:
        raise Refused(
            f"Program year {program_year} begins on {day_told(first)}; its pool is frozen then."
        )
    categories = _categories_at_start(day, at)
    if program_year == 1:
        snapshot, moved = _first(categories, day, rules), PoolMovement(0)
    else:
        snapshot, moved = _rolled(program_year, at, rules)
    if not snapshot.line_ids and not categories:
        raise Refused(
            f"No line was in the record on {day_told(day)}, so program year {program_year} has no "
            "pool. "
            "Take in the baseline inventory, then freeze with the day it was complete."
        )
    return _write(snapshot, moved, categories, by, at)


def pools_freeze_due(*, as_of: date, by: str, at: datetime) -> list[PoolFreeze]:
    """Freeze, in order, the pool of every program year that has begun by a day.

    Returns those frozen now.

    Raises
    ------
    Refused: see `pool_freeze`; the years before are frozen.
    """
    running = program_year(as_of, rules_in_force(at)) or 0
    there = set(PoolFreeze.objects.values_list("program_year", flat=True))
    due = [number for number in range(1, running + 1) if number not in there]
    return [pool_freeze(program_year=number, by=by, at=at) for number in due]


def _bounds(number: int, rules: Rules) -> tuple[date, date]:
    try:
        return program_year_bounds(number, rules)
    except ValueError as error:
        raise Refused(str(error)) from error


def _categories_at_start(day: date, at: datetime) -> dict[int, str]:
    """Return {line id: category} before the work of that day; it counts in the year it opens."""
    found = dict(categories_on(day, at).iterator(CHUNK))
    found.update(replaced_on(day, at))
    return found


def _first(categories: dict[int, str], day: date, rules: Rules) -> PoolSnapshot:
    ids = frozenset(line for line, category in categories.items() if category in IN_POOL)
    return PoolSnapshot(1, day, pool_basis(rules), ids, ids)


def _rolled(number: int, at: datetime, rules: Rules) -> tuple[PoolSnapshot, PoolMovement]:
    before = PoolFreeze.objects.filter(program_year=number - 1).first()
    if before is None:
        raise Refused(f"The pool of program year {number - 1} is frozen first.")
    ids = frozen_line_ids(before)
    snapshot = PoolSnapshot(number - 1, before.frozen_for, pool_basis(rules), ids, ids)
    last = program_year_bounds(number - 1, rules)[1]
    moved = movement(snapshot, _steps(before, last, at), rules)
    return next_snapshot(snapshot, moved, rules=rules), moved


def _steps(before: PoolFreeze, last: date, at: datetime) -> Iterator[CategoryStep]:
    """What was found in a pool's year, and what was corrected of the days before it since."""
    first = before.frozen_for
    known = first if before.program_year == 1 else first - timedelta(days=1)
    for step in late_steps(known, before.frozen_at, at):
        yield replace(step, effective_on=first)
    yield from category_steps(first, last, at)


@transaction.atomic
def _write(
    snapshot: PoolSnapshot,
    moved: PoolMovement,
    categories: dict[int, str],
    by: str,
    at: datetime,
) -> PoolFreeze:
    numbers = dict.fromkeys(("LEAD", "GRR", "UNKNOWN"), 0)
    for line in snapshot.line_ids:
        if categories.get(line) in numbers:
            numbers[categories[line]] += 1
    freeze = PoolFreeze.objects.create(
        program_year=snapshot.program_year,
        frozen_for=snapshot.frozen_on,
        size=snapshot.size,
        lead=numbers["LEAD"],
        grr=numbers["GRR"],
        unknown=numbers["UNKNOWN"],
        carried=snapshot.size - len(moved.found_lead_or_grr),
        added=len(moved.found_lead_or_grr),
        removed=len(moved.found_non_lead),
        line_list_sha256=pool_digest(_location_ids(snapshot.line_ids)),
        frozen_by=by,
        frozen_at=at,
    )
    _write_lines(freeze, snapshot, moved, categories)
    return freeze


def _write_lines(freeze, snapshot, moved, categories) -> None:
    rows: Iterable[tuple] = (
        (line, categories.get(line, ""), FOUND if line in moved.found_lead_or_grr else POOL)
        for line in sorted(snapshot.line_ids)
    )
    bulk.stage("pool_stage", [("line_id", "INTEGER"), ("category", "TEXT"), ("why", "TEXT")], rows)
    bulk.execute(
        f"INSERT INTO {PoolLine._meta.db_table} (freeze_id, line_id, category, why) "
        f"SELECT {int(freeze.pk)}, line_id, category, why FROM pool_stage ORDER BY line_id"
    )
    bulk.drop("pool_stage")


def _location_ids(line_ids: frozenset[int]) -> Iterator[str]:
    """Yield the utility's own identifiers, by which anybody can check the list's SHA-256."""
    lines = ServiceLine.objects.order_by("id").values_list("id", "location_id")
    return (name for pk, name in lines.iterator(CHUNK) if pk in line_ids)
