"""Paving and main works taken in from a file: a batch that holds what it read.

Such a file, and one of census areas, is taken back and brought back as a whole.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.db import transaction

from program.planning.works_reading import read_works
from services_inventory.intake.reading.table import UnreadableFile
from services_inventory.models import Batch
from services_inventory.operations.batches import BatchError, Report

KIND = "WORKS"
TAKEN_IN = (KIND, "CENSUS")


class WorksError(Exception):
    """A file of works can't be taken back or brought back; the message says why."""


def works_run(*, batch: Batch, report: Report) -> None:
    """Read a batch's file and keep its works with it.

    Raises
    ------
    BatchError: the file can't be used, or its works are in force already; nothing is kept.
    """
    report(0, 1)
    refuse_same_file(batch)
    try:
        found = read_works(Path(batch.file.path))
    except UnreadableFile as error:
        raise BatchError(str(error)) from error
    batch.result = {
        "works": [
            [work.name, work.first.isoformat(), work.last.isoformat(), work.wkt] for work in found
        ]
    }
    batch.counts = {"works": len(found)}
    batch.message = f"{len(found):,} works are taken in."
    batch.state = Batch.State.APPLIED
    report(1, 1)


def refuse_same_file(batch: Batch) -> None:
    """Refuse a file that was taken in before and is in force.

    Raises
    ------
    BatchError: it is.
    """
    same = Batch.objects.filter(
        kind=batch.kind, state=Batch.State.APPLIED, file_sha256=batch.file_sha256
    ).exclude(pk=batch.pk)
    if any("taken_back_by" not in one.result for one in same):
        raise BatchError("The same file was taken in before and is in force.")


@transaction.atomic
def works_take_back(*, batch: Batch, by: str, at: datetime, back: bool = False) -> Batch:
    """Take a file of works or census areas back, or with `back` bring it in force again.

    Raises
    ------
    WorksError: it isn't there to be taken back, or is in force already.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    gone = "taken_back_by" in batch.result
    if batch.kind not in TAKEN_IN or batch.state != Batch.State.APPLIED:
        raise WorksError("This is no file of works or areas that was taken in.")
    if gone != back:
        raise WorksError(
            f"{batch.file_name} is {'taken back' if gone else 'in force'} already: nothing changed."
        )
    if back:
        del batch.result["taken_back_by"], batch.result["taken_back_at"]
    else:
        batch.result |= {"taken_back_by": by, "taken_back_at": at.isoformat()}
    batch.save(update_fields=["result"])
    return batch
