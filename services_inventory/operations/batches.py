"""Long operations: open, queue, run, stop. A worker advances them; a page shows them."""

import hashlib
from datetime import datetime, timedelta
from pathlib import Path
from secrets import token_hex
from time import monotonic

from django.conf import settings
from django.core.files import File
from django.db import transaction
from django.db.models import Case, When
from django.utils.module_loading import import_string

from services_inventory.domain.reporting import Report
from services_inventory.refused import Refused

from .. import bulk, progress
from ..database_away import disk_full
from ..domain.regulation import RegulationError
from ..kept_files import local_path, store_away
from ..models import Batch
from ..queries.batches import batches_waiting
from ..today import now, today
from ..uploading import sha256_of_upload

HERE = "run_by_a_command"  # the parameter of a batch that no worker takes up again
DAYS_KEPT = 30  # for an uploaded file whose columns nobody has said yet
COMMAND_ENDED = (
    "The command that ran this was ended before it was done. Nothing of it was kept; start "
    "it again."
)
NOTED_EVERY_S = 0.2  # no page looks more often
CLAIMED_S = 10
MOST_TAKEN_UP = 5  # times that one batch is taken up again before a person has to look

BROKEN_OFF = (
    "The worker was broken off {} times while it ran this, most likely because the machine is "
    "short of memory or the database went away. Nothing of this step was kept. Tell your "
    "administrator the number of this batch; then start it again, or divide the file."
)


class BatchStopped(Exception):
    """Somebody asked the operation to stop; nothing of the running step was kept."""


def sha256_of(path) -> str:
    """Return the SHA-256 of a file, read in pieces."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def batch_open(
    *,
    kind: str,
    by: str,
    at: datetime,
    file=None,
    title: str = "",
    parameters: dict | None = None,
    owner_key: str = "",
) -> Batch:
    """Record a new operation, and keep its file (an open file or a path) by content."""
    batch = Batch(
        kind=kind,
        title=title,
        parameters=parameters or {},
        requested_by=by,
        created_at=at,
        owner_key=owner_key,
    )
    if file is not None:
        _keep_file(batch, file)
    batch.save()
    return batch


def batch_open_again(*, batch: Batch, parameters: dict, by: str, at: datetime) -> Batch:
    """Open another operation with the file of one that is on record."""
    again = batch_open(
        kind=batch.kind, by=by, at=at, file=local_path(batch.file), parameters=parameters
    )
    again.file_name = batch.file_name
    again.save(update_fields=["file_name"])
    return again


def _keep_file(batch: Batch, file) -> None:
    if isinstance(file, str | Path):
        with open(file, "rb") as opened:
            _keep_file(batch, File(opened, name=Path(file).name))
        return
    batch.file_name = Path(file.name).name[:255]
    # No name twice: where a full disk kept a row from learning that its file went, that row would
    # name the next file that is called so, and let it go.
    batch.file_sha256 = sha256_of_upload(file)
    batch.file.save(f"{token_hex(4)}_{batch.file_name[-80:]}", file, save=False)
    batch.file_bytes = batch.file.size


def batch_queue(*, batch: Batch, step: str = "") -> Batch:
    """Hand the batch to the worker, with the step it is to take next."""
    batch.state = Batch.State.QUEUED
    batch.parameters = {**batch.parameters, "step": step}
    batch.cancel_requested = False
    batch.taken_up, batch.held_by = 0, ""
    progress.clear(batch.pk)  # a wish to stop was for the step before
    batch.save(update_fields=["state", "parameters", "cancel_requested", "taken_up", "held_by"])
    return batch


def batch_stop(*, batch: Batch) -> None:
    """Ask a running batch to stop, or take a waiting one out of the queue."""
    taken = Batch.objects.filter(pk=batch.pk, state=Batch.State.QUEUED).update(
        state=Batch.State.STOPPED, message="Taken out of the queue.", ended_at=now()
    )
    if not taken:
        progress.ask_to_stop(batch.pk)


def batch_claim() -> Batch | None:
    """Take the oldest batch that waits for this day, or return None. One worker gets it.

    Kinds that run when idle come after all others.
    """
    with transaction.atomic():
        waiting = batches_waiting(today())
        if _locks_rows():
            waiting = waiting.select_for_update(skip_locked=True, of=("self",))
        idle = [kind for kind, row in settings.BATCH_KINDS.items() if "when" in row]
        late = [Case(When(kind__in=idle, then=1), default=0)] if idle else []
        batch = waiting.order_by(*late, "id").first()
        if batch is None:
            return None
        checks = batch.parameters.get("step") == "CHECK"
        batch.state = Batch.State.CHECKING if checks else Batch.State.APPLYING
        batch.held_by = progress.this_process()
        batch.started_at = batch.heartbeat_at = now()
        batch.save(update_fields=["state", "held_by", "started_at", "heartbeat_at"])
        progress.write(batch.pk, 0, batch.total)
        return batch


def _locks_rows() -> bool:
    from django.db import connection

    return connection.features.has_select_for_update_skip_locked


def batch_run(*, batch: Batch, report: Report | None = None) -> Batch:
    """Advance a batch by its kind's runner, and record how it ended.

    The runner sets the state it reached (CHECKED or APPLIED), counts and result. What it
    raises as `Refused` is shown as it is; anything else is kept for the administrator and
    the batch is refused. Either way the record is as it was before the step. One that another
    worker is still at, which was thought gone, is left to it.
    """
    with bulk.held(_name(batch)) as ours:
        return _run(batch, report) if ours else batch


def _name(batch: Batch) -> str:
    return f"batch {batch.pk}"


def _run(batch: Batch, report: Report | None) -> Batch:
    runner = import_string(settings.BATCH_KINDS[batch.kind]["run"])
    batch.started_at = batch.started_at or now()
    batch.message = ""
    try:
        runner(batch=batch, report=_reporter(batch, report))
    except BatchStopped:
        _end(batch, Batch.State.STOPPED, "Stopped on request. Nothing of this step was kept.")
    except (Refused, RegulationError) as error:
        _end(batch, Batch.State.REFUSED, str(error))
    except Exception as error:
        _end(
            batch,
            Batch.State.REFUSED,
            disk_full(error)
            or store_away(error)
            or "The program met an error that it did not expect; nothing was kept. "
            "Please tell your administrator the number of this batch.",
        )
        raise
    else:
        _end(batch, batch.state, batch.message)
    return batch


def batch_run_here(*, batch: Batch, report: Report | None = None) -> Batch:
    """Run a batch by a command, without a worker; if it is broken off, nothing of it stays open.

    A file that was refused is not kept: whoever gave the command has it.
    """
    batches_recover()
    checks = batch.parameters.get("step") == "CHECK"
    batch.state = Batch.State.CHECKING if checks else Batch.State.APPLYING
    batch.parameters, batch.held_by = {**batch.parameters, HERE: True}, progress.this_process()
    batch.save(update_fields=["state", "parameters", "held_by"])
    progress.write(batch.pk, 0, 0)
    try:
        batch_run(batch=batch, report=report)
    except KeyboardInterrupt:
        _end(batch, Batch.State.STOPPED, COMMAND_ENDED)
    finally:
        if batch.state in (Batch.State.REFUSED, Batch.State.STOPPED):
            _let_file_go(batch)
    return batch


def batch_forget(*, batch: Batch) -> None:
    """Leave nothing of a batch that only looked: no row, no file, no note."""
    _let_file_go(batch)
    batch.held_rows.all().delete()
    progress.clear(batch.pk)
    batch.delete()


def _let_file_go(batch: Batch) -> None:
    """The row first: a file that no row names is removed later, one that a row names is missed."""
    if batch.file:
        name, batch.file = batch.file.name, ""
        batch.save(update_fields=["file"])
        batch.file.storage.delete(name)


def _reporter(batch: Batch, also: Report | None) -> Report:
    noted_at, noted_of = 0.0, -1

    def report(done: int, total: int) -> None:
        nonlocal noted_at, noted_of
        if done >= total or total != noted_of or monotonic() - noted_at > NOTED_EVERY_S:
            progress.write(batch.pk, done, total)
            noted_at, noted_of = monotonic(), total
        if also is not None:
            also(done, total)
        if progress.stop_asked(batch.pk):
            raise BatchStopped
        batch.done, batch.total = done, total

    return report


def _end(batch: Batch, state: str, message: str) -> None:
    with transaction.atomic():
        held = Batch.objects.select_for_update().filter(pk=batch.pk, held_by=batch.held_by)
        if held.first() is None:
            return  # another has it now, or somebody has just sent it on to its next step
        batch.state = state
        batch.message = message
        batch.ended_at = now()
        batch.save()
    progress.clear(batch.pk)


def batches_recover(*, silent_seconds: float = 600) -> int:
    """Queue again what a killed worker left running; return how many batches that were.

    Every step is one transaction or is keyed, so running it again is harmless. One over which
    worker after worker was killed is refused, so that those behind it come to their turn.
    """
    running = Batch.objects.filter(state__in=(Batch.State.APPLYING, Batch.State.CHECKING))
    left = [batch for batch in running if _is_left(batch, silent_seconds)]
    for batch in left:
        if batch.parameters.get(HERE):
            _end(batch, Batch.State.STOPPED, COMMAND_ENDED)
            _let_file_go(batch)
        elif batch.taken_up < MOST_TAKEN_UP:
            batch.state, batch.held_by = Batch.State.QUEUED, ""
            batch.taken_up += 1
            batch.save(update_fields=["state", "held_by", "taken_up"])
        else:
            _end(batch, Batch.State.REFUSED, BROKEN_OFF.format(batch.taken_up + 1))
    _let_go_what_nobody_went_on_with()
    return len(left)


def _is_left(batch: Batch, silent_seconds: float) -> bool:
    """Whether nobody runs it: no process of this machine, and none that the database knows of."""
    with bulk.held(_name(batch)) as free:
        # Where the database knows who is at it, on whatever machine, nothing is waited for but the
        # moment between a claim and its hold.
        patience = min(silent_seconds, CLAIMED_S) if bulk.holds_are_known() else silent_seconds
        return free and progress.abandoned(batch.pk, patience)


def _let_go_what_nobody_went_on_with() -> None:
    """End uploads that waited too long for their columns, and notes of what no longer runs."""
    waiting = Batch.objects.filter(
        state=Batch.State.RECEIVED, created_at__lt=now() - timedelta(days=DAYS_KEPT)
    )
    for batch in waiting:
        _end(batch, Batch.State.STOPPED, f"Nobody went on with it within {DAYS_KEPT} days.")
        _let_file_go(batch)
    open_now = Batch.objects.filter(
        state__in=(Batch.State.QUEUED, Batch.State.APPLYING, Batch.State.CHECKING)
    )
    progress.forget_all_but(set(open_now.values_list("id", flat=True)))
