"""Taking a whole file back: a batch that withdraws it, and standings as they were before."""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime

from django.db import transaction
from django.db.models import Min
from django.utils.timezone import localdate

from services_inventory.refused import Refused

from .. import bulk
from ..domain.reporting import Report
from ..intake.applying import EVIDENCE, KINDS, OF_LINE, PLACE
from ..intake.matching import LINE, PREMISE
from ..models import (
    Batch,
    CategoryChange,
    Evidence,
    MatchDecision,
    PremiseChange,
    SaidCategory,
)
from ..queries.past import withdrawals
from ..today import now
from .batches import batch_open, batch_run
from .standings import standings_derive

UNDO = "INTAKE_UNDO"


def intake_undo(
    *, batch: Batch, by: str, at: datetime, never_true: bool = False, report: Report | None = None
) -> Batch:
    """Withdraw all that an intake batch recorded; return the batch that withdraws it.

    Evidence stays in the record, marked as withdrawn; places are as they were before, where no
    later file has corrected them again; lines that only this file named leave the inventory.
    `never_true`: another utility's file, or one of mistakes, counts for no day, by what is known
    now; else it counts up to now and no longer.

    Raises
    ------
    Refused: the batch was never applied, or was withdrawn already.
    """
    _refuse(batch, never_true)
    undo = undo_open(batch=batch, by=by, at=at, never_true=never_true)
    batch_run(batch=undo, report=report)
    if undo.state == Batch.State.REFUSED:
        raise Refused(undo.message)
    batch.refresh_from_db()
    return undo


def undo_open(*, batch: Batch, by: str, at: datetime, never_true: bool = False) -> Batch:
    """Open a batch that will withdraw another one when the worker comes to it."""
    return batch_open(
        kind=UNDO,
        by=by,
        at=at,
        title=f"Take back {batch.file_name or batch}{' as never true' if never_true else ''}",
        parameters={
            "withdraws": batch.pk,
            "recorded_at": at.isoformat(),
            "never_true": never_true,
        },
    )


def undo_run(*, batch: Batch, report: Report) -> None:
    """Advance a batch of kind INTAKE_UNDO: withdraw the batch that its parameters name."""
    recorded_at = batch.parameters.get("recorded_at")
    recorded_at = datetime.fromisoformat(recorded_at) if recorded_at else now()
    never_true = bool(batch.parameters.get("never_true"))
    with bulk.large_work(), transaction.atomic():
        target = Batch.objects.select_for_update().get(pk=batch.parameters["withdraws"])
        _refuse(target, never_true)
        lines = _lines_of(target)
        standing = target.state != Batch.State.WITHDRAWN
        if standing:
            batch.withdraws = target
        batch.result = {"reaches_back": never_true}
        batch.save()
        report(1, 4)
        if standing:
            _reverse_corrections(target, batch, recorded_at)
            SaidCategory.objects.filter(batch=target).update(taken_back=True)
        report(2, 4)
        changed = standings_derive(
            line_ids=lines,
            recorded_at=recorded_at,
            by=batch.requested_by,
            batch=batch,
            since=_first_day(target) if never_true else None,
        )
        if standing:
            _sizes_from_evidence(lines)
        report(3, 4)
        Batch.objects.filter(pk=target.pk).update(state=Batch.State.WITHDRAWN)
        batch.counts = {"lines": len(lines), "changed": changed}
        batch.state = Batch.State.APPLIED
        batch.save()


def _refuse(batch: Batch, never_true: bool) -> None:
    """Refuse what is no file taken in, and to take it back twice in the same way."""
    before = [one.never_true for one in withdrawals() if one.batch_id == batch.pk]
    if True in before:
        raise Refused("This batch was withdrawn already, as never true.")
    if before and not never_true:
        raise Refused("This batch was withdrawn already.")
    if batch.kind != "INTAKE" or not (before or batch.state == Batch.State.APPLIED):
        raise Refused("Only an intake file that was applied can be withdrawn.")


def _lines_of(batch: Batch) -> list[int]:
    """The lines that the batch recorded evidence about, or that were born of it."""
    first, last = batch.first_evidence_id, batch.last_evidence_id
    said = (
        f"SELECT line_id FROM {EVIDENCE} WHERE id BETWEEN {int(first or 0)} AND {int(last or 0)} "
        f"AND batch_id = {int(batch.pk)} UNION "
        if first
        else ""
    )
    rows = bulk.stream(f"{said}SELECT id FROM {LINE} WHERE batch_id = {int(batch.pk)}")
    decided = MatchDecision.lines.through.objects.filter(matchdecision__uses__batch=batch)
    return list({pk for (pk,) in rows} | set(decided.values_list("serviceline_id", flat=True)))


def _first_day(batch: Batch) -> date:
    """The first day for which the batch counted."""
    changes = CategoryChange.objects.filter(batch=batch)
    rows = Evidence.objects.filter(batch=batch)
    days = (
        changes.aggregate(first=Min("effective_on"))["first"],
        localdate(rows.aggregate(first=Min("recorded_at"))["first"] or batch.created_at),
        rows.aggregate(first=Min("counts_from"))["first"],
    )
    return min(day for day in days if day)


def _reverse_corrections(target: Batch, undo: Batch, recorded_at: datetime) -> None:
    """Put back what the batch corrected, value by value, where it still stands as corrected."""
    changes = list(
        PremiseChange.objects.filter(batch=target)
        .order_by("-id")
        .values_list("premise_id", "before", "after")
    )
    for name in PLACE:
        _put_back(PREMISE, name, ((pk, b, a) for pk, b, a in changes if name in a))
    for name in OF_LINE:
        _put_back(LINE, name, ((a["line"], b, a) for _, b, a in changes if name in a))
    bulk.execute(
        f"UPDATE {LINE} AS l SET neighborhood_id = p.neighborhood_id FROM {PREMISE} p, "
        f"services_inventory_premisechange c WHERE c.batch_id = {int(target.pk)} "
        "AND p.id = c.premise_id AND l.premise_id = p.id "
        "AND l.neighborhood_id IS DISTINCT FROM p.neighborhood_id"
    )
    bulk.fill(
        "services_inventory_premisechange",
        ("premise_id", "before", "after", "recorded_at", "recorded_by", "batch_id"),
        (
            (
                pk,
                json.dumps(after),
                json.dumps(before),
                bulk.moment(recorded_at),
                undo.requested_by,
                undo.pk,
            )
            for pk, before, after in changes
        ),
    )


def _put_back(table: str, name: str, changes: Iterable[tuple[int, dict, dict]]) -> None:
    kind = KINDS.get(name, "TEXT")

    def rows() -> Iterator[tuple]:
        for pk, before, after in changes:
            yield pk, before[name], after[name]

    bulk.stage("put_back", [("id", "INTEGER"), ("was", kind), ("became", kind)], rows())
    bulk.execute(
        f"UPDATE {table} AS t SET {name} = s.was FROM put_back s "
        f"WHERE s.id = t.id AND t.{name} IS NOT DISTINCT FROM s.became"
    )
    bulk.drop("put_back")


def _sizes_from_evidence(lines: list[int]) -> None:
    """Let year and sizes of the lines be what the evidence that is left says last."""
    bulk.stage("undo_lines", [("id", "KEY")], ((pk,) for pk in lines))
    alive = (
        f"FROM {EVIDENCE} e LEFT JOIN services_inventory_batch w ON w.withdraws_id = e.batch_id "
        "WHERE e.line_id = l.id AND w.id IS NULL AND e.era = 'NOW'"
    )
    for name, value, portion in (
        ("system_nominal_in", "diameter_in", "e.portion = 'SYSTEM'"),
        ("customer_nominal_in", "diameter_in", "e.portion = 'CUSTOMER'"),
        ("installed_year", "installed_year", "e.portion <> 'CONNECTOR'"),
    ):
        bulk.execute(
            f"UPDATE {LINE} AS l SET {name} = (SELECT e.{value} {alive} AND {portion} "
            f"AND e.{value} IS NOT NULL ORDER BY e.id DESC LIMIT 1) "
            "WHERE l.id IN (SELECT id FROM undo_lines) AND l.category IS NOT NULL"
        )
    bulk.drop("undo_lines")
