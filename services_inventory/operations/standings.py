"""From evidence to standing, for one line or for all of them, by one rule.

The evidence of each line is reduced to what the standing depends on; lines with the same
evidence share one weighing, and the results go back in a few set-based statements. Nothing
else in the program writes a category.
"""

import json
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time

from django.db import transaction
from django.utils.timezone import get_current_timezone, localdate

from .. import bulk
from ..intake.matching import LINE
from ..models import Batch, Conflict
from ..queries.counts import Move
from .backdating import past_write
from .sums import STAGED, Sums, codes_tried, contradictions, stage_sums
from .weighing import (
    Contradiction,
    NumberingWeigher,
    Reader,
    evidence_rows,
)

MANY = 2_000  # lines from which adding up in the database is quicker than reading each
SHARE = 0.5  # of all lines; where more change, indexes are better built anew than kept up


def standings_derive(
    *,
    line_ids: Iterable[int] | None,
    recorded_at: datetime,
    by: str,
    batch: Batch | None = None,
    report=None,
    since: date | None = None,
) -> int:
    """Derive the standing of these lines (None: of all) and write what changed.

    Returns the number of lines whose category changed. A change takes effect on the day it is
    recorded, which is when the utility knew; a replacement, on the day of the work; evidence
    that speaks of earlier days, from its first day on.

    Parameters
    ----------
    since : derive the past days of every one of these lines anew from this day on
    """
    with transaction.atomic():
        reader = _stage(line_ids, recorded_at, report, _FACTS, conflicts=True)
        if since:
            day = bulk.typed(f"'{since.isoformat()}'", "date")
            bulk.execute(
                f"UPDATE standing_stage SET early_on = {day} "
                f"WHERE early_on IS NULL OR early_on > {day}"
            )
        changed = _write(recorded_at, by, batch)
        _write_conflicts(reader.conflicts, recorded_at)
        bulk.drop("standing_stage", "standing_outcome")
    return changed


def _stage(
    line_ids: Iterable[int] | None,
    recorded_at: datetime,
    report,
    unlike: Sequence[str],
    tried: bool = False,
    **more,
) -> Reader:
    """Stage the standings of these lines as the evidence has them; of all, those that differ."""
    ids = None if line_ids is None else set(line_ids)
    weigher = NumberingWeigher.on(localdate(recorded_at))
    reader = Reader(weigher, recorded_at)
    bulk.stage("standing_stage", STAGED, ())
    sums = None
    if ids is None or len(ids) >= MANY:
        sums, ids = _stage_sums(ids, weigher, unlike, tried, **more)
    if ids:
        rows = reader.rows(evidence_rows(ids), report)
        bulk.fill("standing_stage", [name for name, _ in STAGED[:3]], rows)
        bulk.execute(
            "UPDATE standing_stage SET was = (SELECT l.category "
            "FROM services_inventory_serviceline l WHERE l.id = standing_stage.line_id) "
            "WHERE total IS NULL"
        )
    weigher.stage()
    bulk.index("standing_stage")
    if sums:
        reader.conflicts |= contradictions(sums)
    return reader


def _stage_sums(ids: set[int] | None, weigher: NumberingWeigher, unlike, tried: bool, **more):
    """Stage standings by the sums of the lines' evidence; return the lines to be read as well."""
    wanted = "" if ids is None else "sum_wanted"
    if wanted:
        bulk.stage(wanted, [("id", "KEY")], ((pk,) for pk in sorted(ids or ())))
        bulk.index(wanted)
    sums = Sums(weigher)
    if tried:
        more |= {"codes_written": True, "evidence": codes_tried(sums)}
    others = stage_sums(sums, wanted, unlike, **more)
    bulk.drop("sum_wanted")
    return sums, others


def standings_compare(*, recorded_at: datetime, report=None, examples: int = 20) -> dict:
    """Compare what every line carries with what its evidence amounts to; change no standing.

    Codes that another rule left on statements are written anew on the way.

    Returns
    -------
    dict
        `lines` compared, number of `differences`, and up to `examples` of them, each with the
        location and what is stored and derived.
    """
    with transaction.atomic():
        _stage(None, recorded_at, report, _COMPARED)
        lines = bulk.number("SELECT count(*) FROM services_inventory_serviceline")
        differs = " OR ".join(f"l.{name} IS DISTINCT FROM o.{name}" for name in _COMPARED)
        source = (
            "FROM standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome "
            f"JOIN services_inventory_serviceline l ON l.id = s.line_id WHERE {differs}"
        )
        differences = bulk.number(f"SELECT count(*) {source}")
        names = ", ".join(f"l.{name}, o.{name}" for name in _COMPARED)
        rows = bulk.stream(f"SELECT l.location_id, {names} {source} ORDER BY l.id LIMIT {examples}")
        shown = [_difference(*row) for row in rows] if differences else []
        bulk.drop("standing_stage", "standing_outcome")
    return {"lines": lines, "differences": differences, "examples": shown}


def standings_rehearse(*, on: date, report=None, examples: int = 20) -> tuple[list[Move], list]:
    """Count what restating every line by the rule of a day would move; write nothing.

    Returns the moves, and up to `examples` lines that change category as (line id, location id,
    category, new category). Evidence keeps its codes: those of the rule tried stand beside them.
    """
    at = datetime.combine(on, time(12), tzinfo=get_current_timezone())
    with bulk.large_work(), transaction.atomic():
        _stage(None, at, report, ("category", "validation"), tried=True)
        source = (
            "FROM standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome "
            f"JOIN {LINE} l ON l.id = s.line_id WHERE"
        )
        names = "l.category, l.validation, o.category, o.validation"
        rows = bulk.stream(
            f"SELECT {names}, count(*) {source} l.category IS DISTINCT FROM o.category "
            f"OR l.validation IS DISTINCT FROM o.validation GROUP BY {names}"
        )
        moves = [Move(*row) for row in rows]
        shown = list(
            bulk.stream(
                f"SELECT l.id, l.location_id, l.category, o.category {source} "
                f"l.category IS DISTINCT FROM o.category ORDER BY l.id LIMIT {int(examples)}"
            )
        )
        transaction.set_rollback(True)
    return moves, shown


def _difference(location_id: str, *values) -> dict:
    stored = dict(zip(_COMPARED, values[::2], strict=True))
    derived = dict(zip(_COMPARED, values[1::2], strict=True))
    unlike = [name for name in _COMPARED if stored[name] != derived[name]]
    return {
        "location_id": location_id,
        "stored": {name: stored[name] for name in unlike},
        "derived": {name: derived[name] for name in unlike},
    }


_FACTS = (
    "category", "decision_id", "system_material", "customer_material", "connector",
    "system_was_lead", "system_below_lead", "validation", "in_conflict",
)  # fmt: skip


_COMPARED = tuple(name for name in _FACTS if name != "decision_id")


def _write(recorded_at: datetime, by: str, batch: Batch | None) -> int:
    batch_id = batch.pk if batch else None
    joined = (
        "standing_stage s CROSS JOIN standing_outcome o "
        "WHERE o.outcome = s.outcome AND s.was IS DISTINCT FROM o.category"
    )
    today = bulk.typed(f"'{localdate(recorded_at).isoformat()}'", "date")
    changed = bulk.number(f"SELECT count(*) FROM {joined} AND s.early_on IS NOT NULL")
    changed += bulk.execute(
        "INSERT INTO services_inventory_categorychange (line_id, from_category, to_category, "
        "decision_id, effective_on, recorded_at, recorded_by, batch_id) "
        "SELECT s.line_id, s.was, o.category, o.decision_id, "
        f"{today}, {_cast('%s', 'timestamptz')}, {_cast('%s', 'text')}, {_cast('%s', 'bigint')} "
        f"FROM {joined} AND s.early_on IS NULL ORDER BY s.line_id",
        [bulk.moment(recorded_at), by, batch_id],
    )
    _write_standings(changed, today)
    past_write(recorded_at=recorded_at, by=by, batch_id=batch_id)
    return changed


def _write_standings(changed: int, today: str) -> None:
    """Write the columns that differ into the lines that are staged."""
    names: tuple[str, ...] = _FACTS
    if not bulk.number("SELECT count(*) FROM standing_stage WHERE as_decided IS DISTINCT FROM 1"):
        names = tuple(name for name in _FACTS if name != "decision_id")
    sets = ", ".join(f"{name} = o.{name}" for name in names)
    # Counted only where many changed: a million lines take longer than writing one of them.
    most = changed >= MANY and changed > SHARE * bulk.number(
        "SELECT count(*) FROM services_inventory_serviceline"
    )
    tables = ("services_inventory_serviceline",) if most else ()
    differs = "TRUE" if tables else " OR ".join(f"l.{n} IS DISTINCT FROM o.{n}" for n in names)
    staged = bulk.number(f"SELECT count(*) FROM (SELECT 1 FROM standing_stage LIMIT {MANY}) AS s")
    named = "l.id IN (SELECT line_id FROM standing_stage) AND " if staged < MANY else ""
    with bulk.built_after(*tables, of={"category", "decision_id"} & set(names)):
        bulk.execute(
            f"UPDATE services_inventory_serviceline AS l SET {sets}, category_since = "
            f"CASE WHEN l.category IS DISTINCT FROM o.category THEN COALESCE(s.early_on, {today}) "
            "ELSE l.category_since END FROM standing_stage s, standing_outcome o "
            f"WHERE {named}o.outcome = s.outcome AND l.id = s.line_id AND ({differs})"
        )


def _cast(mark: str, kind: str) -> str:
    """PostgreSQL wants to know a parameter's type in a select list; SQLite doesn't ask."""
    return f"CAST({mark} AS {kind})" if bulk.on_postgresql() else mark


def _write_conflicts(conflicts: dict[int, list[Contradiction]], recorded_at: datetime) -> None:
    """Open what contradicts itself now, keep open ones true, close what evidence has settled."""
    opened_at = bulk.moment(recorded_at)
    staged = bulk.stream(
        "SELECT c.line_id FROM services_inventory_conflict c JOIN standing_stage s "
        "ON s.line_id = c.line_id WHERE c.resolved_at IS NULL"
    )
    open_now = {
        (found.line_id, found.portion): found
        for found in Conflict.objects.filter(
            resolved_at__isnull=True, line_id__in={pk for (pk,) in staged}
        )
    }
    fresh, moved = [], []
    for line_id, of_line in conflicts.items():
        for found in of_line:
            there = open_now.pop((line_id, found.portion), None)
            ids = json.dumps(found.record_ids)
            if there is None:
                fresh.append((line_id, found.portion, found.reason, ids, opened_at, "", ""))
            elif (there.sentence, there.evidence_ids) != (found.reason, found.record_ids):
                there.sentence, there.evidence_ids = found.reason, found.record_ids
                moved.append(there)
    bulk.fill(
        "services_inventory_conflict",
        ("line_id", "portion", "sentence", "evidence_ids", "opened_at", "resolved_by", "reason"),
        fresh,
    )
    Conflict.objects.bulk_update(moved, ["sentence", "evidence_ids"], batch_size=500)
    for settled in open_now.values():
        settled.resolved_at = recorded_at
        settled.resolved_by = "later evidence"
        settled.reason = "Evidence recorded later leaves no contradiction."
    Conflict.objects.bulk_update(
        open_now.values(), ["resolved_at", "resolved_by", "reason"], batch_size=500
    )
