"""Paving and main works taken in from a file: a batch that holds what it read.

Such a file, and one of census areas, is taken back and brought back as a whole.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from program.planning.works_reading import Stretch, Work, read_closures, read_works
from replacements.models import StreetClosure
from replacements.operations.closures import closure_record, closure_withdraw
from services_inventory.domain.reporting import Report
from services_inventory.kept_files import local_path
from services_inventory.models import Batch
from services_inventory.refused import Refused

KIND = "WORKS"
TAKEN_IN = (KIND, "CENSUS")
CLOSED = "CLOSED"  # block faces, which become rows of their own


def works_run(*, batch: Batch, report: Report) -> None:
    """Read a batch's file and keep its works with it.

    Raises
    ------
    Refused: the file can't be used, or its works are in force already; nothing is kept.
    """
    report(0, 1)
    refuse_same_file(batch)
    path = local_path(batch.file)
    if batch.parameters["works"] == CLOSED:
        _close(batch, read_closures(path))
    else:
        _keep(batch, read_works(path))
    batch.state = Batch.State.APPLIED
    report(1, 1)


def _keep(batch: Batch, found: list[Work]) -> None:
    batch.result = {
        "works": [
            [work.name, work.first.isoformat(), work.last.isoformat(), work.wkt] for work in found
        ]
    }
    batch.counts = {"works": len(found)}
    batch.message = f"{len(found):,} works are taken in."


@transaction.atomic
def _close(batch: Batch, found: list[Stretch]) -> None:
    """Close every face of a file, or none."""
    problems = []
    for one in found:
        try:
            closure_record(
                street=one.street, start=one.start, end=one.end, side=one.side,
                first_day=one.first, last_day=one.last, reason=one.reason, stretch=one.wkt,
                batch=batch, by=batch.requested_by, at=batch.created_at,
            )  # fmt: skip
        except Refused as error:
            problems.append(f"Row {one.row}: {error}")
    if problems:
        more = f" And {len(problems) - 5} more rows." if len(problems) > 5 else ""
        raise Refused(f"Nothing was taken in. {' '.join(problems[:5])}{more}")
    batch.counts = {"works": len(found)}
    batch.message = f"{len(found):,} block faces are closed."


def refuse_same_file(batch: Batch) -> None:
    """Refuse a file that was taken in before and is in force.

    Raises
    ------
    Refused: it is.
    """
    same = Batch.objects.filter(
        kind=batch.kind, state=Batch.State.APPLIED, file_sha256=batch.file_sha256
    ).exclude(pk=batch.pk)
    if any("taken_back_by" not in one.result for one in same):
        raise Refused("The same file was taken in before and is in force.")


@transaction.atomic
def works_take_back(*, batch: Batch, by: str, at: datetime, back: bool = False) -> Batch:
    """Take a file of works or census areas back, or with `back` bring it in force again.

    Raises
    ------
    Refused: it isn't there to be taken back, or is in force already.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    gone = "taken_back_by" in batch.result
    if batch.kind not in TAKEN_IN or batch.state != Batch.State.APPLIED:
        raise Refused("This is no file of works or areas that was taken in.")
    if gone != back:
        raise Refused(
            f"{batch.file_name} is {'taken back' if gone else 'in force'} already: nothing changed."
        )
    if batch.parameters.get("works") == CLOSED:
        if back:
            raise Refused("Closures taken back are not brought back: take the file in again.")
        for closure in StreetClosure.objects.standing().filter(batch=batch):
            closure_withdraw(closure=closure, by=by, at=at, reason="The file was taken back.")
    if back:
        del batch.result["taken_back_by"], batch.result["taken_back_at"]
    else:
        batch.result |= {"taken_back_by": by, "taken_back_at": at.isoformat()}
    batch.save(update_fields=["result"])
    return batch
