"""From evidence to standing, for one line or for all of them, by one rule.

The evidence of each line is reduced to what the standing depends on; lines with the same
evidence share one weighing, and the results go back in a few set-based statements. Nothing
else in the program writes a category.
"""

import json
from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from .. import bulk
from ..domain.evidence import (
    Weighed,
    weigh,
)
from ..models import Batch, Conflict, Evidence
from ..policy import evidence_policy
from .backdating import early_standings, early_write
from .plain_standings import LINE, stage_plain
from .weighing import (
    COLUMNS,
    OUT_OF_INVENTORY,
    Contradiction,
    Reader,
    Weigher,
    decisions_write,
    evidence_rows,
    listed,
    record_of,
    withdrawn_batches,
)

__all__ = ["decisions_write", "line_weighed", "standings_compare", "standings_derive"]


MANY = 2_000  # lines from which the plain ones may better be left to the database,
SHARE = 0.5  # and the part of all lines that they must be


def standings_derive(
    *,
    line_ids: Iterable[int] | None,
    recorded_at: datetime,
    by: str,
    batch: Batch | None = None,
    report=None,
) -> int:
    """Derive the standing of these lines (None: of all) and write what changed.

    Returns the number of lines whose category changed. A change takes effect on the day it is
    recorded, which is when the utility knew; a replacement, on the day of the work.
    """
    with transaction.atomic():
        reader = _stage(line_ids, recorded_at, report)[1]
        changed = _write(recorded_at, by, batch)
        _write_conflicts(reader.conflicts, recorded_at)
        bulk.drop("standing_stage", "standing_outcome")
    return changed


def _stage(line_ids: Iterable[int] | None, recorded_at: datetime, report) -> tuple[int, "Reader"]:
    """Stage the standing of these lines as the evidence has it; return their number too."""
    ids = None if line_ids is None else set(line_ids)
    weigher = Weigher(localdate(recorded_at))
    reader = Reader(weigher, recorded_at)
    kinds = [("line_id", "INTEGER"), ("outcome", "INTEGER"), ("effective_on", "DATE")]
    bulk.stage("standing_stage", kinds, ())
    plain = ids is None or (
        len(ids) >= MANY and len(ids) >= SHARE * bulk.number(f"SELECT count(*) FROM {LINE}")
    )
    if plain:
        ids = _stage_plain(ids, weigher, reader)
    if ids or not plain:
        rows = reader.rows(evidence_rows(ids), report)
        bulk.fill("standing_stage", [name for name, _ in kinds], rows)
    weigher.stage()
    bulk.index("standing_stage")
    return bulk.number("SELECT count(*) FROM standing_stage"), reader


def _stage_plain(ids: set[int] | None, weigher: "Weigher", reader: "Reader") -> list[int]:
    """Stage the standings of plain lines; return the lines that are read one by one."""
    if ids is not None:
        bulk.stage("plain_wanted", [("id", "KEY")], ((pk,) for pk in ids))
        bulk.index("plain_wanted")
    others = stage_plain(
        weigher=weigher,
        out_of_inventory=weigher.number(OUT_OF_INVENTORY),
        record_of=record_of,
        columns=COLUMNS,
        lines="" if ids is None else "plain_wanted",
        gone=listed(withdrawn_batches()),
        day=reader.today,
    )
    bulk.drop("plain_wanted")
    return others


def standings_compare(*, recorded_at: datetime, report=None, examples: int = 20) -> dict:
    """Compare what every line carries with what its evidence amounts to; write nothing.

    Returns
    -------
    dict
        `lines` compared, number of `differences`, and up to `examples` of them, each with the
        location and what is stored and derived.
    """
    with transaction.atomic():
        lines, _ = _stage(None, recorded_at, report)
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


def _difference(location_id: str, *values) -> dict:
    stored = dict(zip(_COMPARED, values[::2], strict=True))
    derived = dict(zip(_COMPARED, values[1::2], strict=True))
    unlike = [name for name in _COMPARED if stored[name] != derived[name]]
    return {
        "location_id": location_id,
        "stored": {name: stored[name] for name in unlike},
        "derived": {name: derived[name] for name in unlike},
    }


def line_weighed(line_id: int, as_of: date, known_at: datetime | None = None) -> Weighed:
    """Weigh one line's evidence as a page shows it, as was known at a moment if given."""
    rows = (
        Evidence.objects.filter(line_id=line_id)
        .exclude(batch__withdrawn_by__isnull=False)
        .values_list(*COLUMNS)
    )
    return weigh([record_of(row) for row in rows], evidence_policy(as_of), known_at=known_at)


_FACTS = (
    "category", "decision_id", "system_material", "customer_material", "connector",
    "system_was_lead", "system_below_lead", "validation", "in_conflict",
)  # fmt: skip


_COMPARED = tuple(name for name in _FACTS if name != "decision_id")


def _write(recorded_at: datetime, by: str, batch: Batch | None) -> int:
    batch_id = batch.pk if batch else None
    joined = (
        "standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome "
        "JOIN services_inventory_serviceline l ON l.id = s.line_id"
    )
    differs = "l.category IS DISTINCT FROM o.category"
    today = bulk.typed(f"'{localdate(recorded_at).isoformat()}'", "date")
    early = early_standings(recorded_at)
    changed = bulk.number(
        f"SELECT count(*) FROM {joined} WHERE {differs} AND s.effective_on < {today}"
    )
    changed += bulk.execute(
        "INSERT INTO services_inventory_categorychange (line_id, from_category, to_category, "
        "decision_id, effective_on, recorded_at, recorded_by, batch_id) "
        "SELECT l.id, l.category, o.category, o.decision_id, s.effective_on, "
        f"{_cast('%s', 'timestamptz')}, {_cast('%s', 'text')}, {_cast('%s', 'bigint')} "
        f"FROM {joined} WHERE {differs} AND s.effective_on >= {today} ORDER BY l.id",
        [bulk.moment(recorded_at), by, batch_id],
    )
    sets = ", ".join(f"{name} = o.{name}" for name in _FACTS)
    differs = " OR ".join(f"l.{name} IS DISTINCT FROM o.{name}" for name in _FACTS)
    bulk.execute(
        f"UPDATE services_inventory_serviceline AS l SET {sets}, category_since = "
        "CASE WHEN l.category IS DISTINCT FROM o.category THEN s.effective_on "
        "ELSE l.category_since END FROM standing_stage s, standing_outcome o "
        f"WHERE o.outcome = s.outcome AND l.id = s.line_id AND ({differs})"
    )
    early_write(early, recorded_at=recorded_at, by=by, batch_id=batch_id)
    return changed


def _cast(mark: str, kind: str) -> str:
    """PostgreSQL wants to know a parameter's type in a select list; SQLite doesn't ask."""
    return f"CAST({mark} AS {kind})" if bulk.on_postgresql() else mark


def _write_conflicts(conflicts: dict[int, list[Contradiction]], recorded_at: datetime) -> None:
    """Open what contradicts itself now, and close what later evidence has settled."""
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
    bulk.fill(
        "services_inventory_conflict",
        ("line_id", "portion", "sentence", "evidence_ids", "opened_at", "resolved_by", "reason"),
        [
            (line_id, found.portion, found.reason, json.dumps(found.record_ids), opened_at, "", "")
            for line_id, of_line in conflicts.items()
            for found in of_line
            if open_now.pop((line_id, found.portion), None) is None
        ],
    )
    for settled in open_now.values():
        settled.resolved_at = recorded_at
        settled.resolved_by = "later evidence"
        settled.reason = "Evidence recorded later leaves no contradiction."
    Conflict.objects.bulk_update(
        open_now.values(), ["resolved_at", "resolved_by", "reason"], batch_size=500
    )
