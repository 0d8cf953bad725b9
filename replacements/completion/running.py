"""Taking a drop in, row by row: each row whole or not at all, and never twice."""

import os
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from itertools import count, islice
from pathlib import Path
from queue import SimpleQueue
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db import transaction
from django.db.models import prefetch_related_objects

from services_inventory.apart import Apart
from services_inventory.asked_once import going_on_by_what_held
from services_inventory.kept_files import local_path
from services_inventory.models import Batch, HeldRow
from services_inventory.operations.batches import BatchStopped
from services_inventory.operations.documents import DocumentRefused
from services_inventory.progress import UNFINISHED
from services_inventory.today import now

from ..domain.pull_logs import PullLogError
from ..models import CompletionRecord, CompletionReview
from ..operations.completions import CompletionError, completion_hand_in
from ..operations.pulls import PullRefused, log_read, pull_record
from ..queries.stored import stops
from ..queries.together import OF_THE_PIT
from .archive import Drop
from .checking import (
    CheckedRow,
    check_cells,
    check_rows,
    handed_in_before,
    handed_in_by_drop,
    key_of,
    objections_to,
    stop_said,
)
from .columns import LOG, ORDER, columns
from .drop_photos import cleaned_of_drop
from .photos import photos_keep
from .pictures import CleanPhoto, PictureRefused
from .reading import FilledForm, form_in

TAKEN, ALREADY, FIX = "TAKEN", "ALREADY", "FIX"
_TOGETHER = 16


class _RowRefused(Exception):
    """A row is not taken; `faults` are (column, sentence)."""

    def __init__(self, faults: list[tuple[str, str]]):
        self.faults = faults
        super().__init__(" ".join(sentence for _, sentence in faults))


def completions_run(*, batch: Batch, report) -> None:
    """Take in the drop of a batch; the batch's result tells the verdict of each row.

    Raises
    ------
    Refused: the drop as a whole cannot be taken.
    """
    with Drop(local_path(batch.file)) as drop, going_on_by_what_held():
        _run(batch, drop, report)


def _run(batch: Batch, drop: Drop, report) -> None:
    filled = form_in(drop)
    checked = check_rows(filled, drop, batch.parameters["contractor_id"])
    HeldRow.objects.filter(batch=batch).delete()
    verdicts, at = [], now()
    batch.state = Batch.State.APPLIED
    report(0, len(checked))
    try:
        for one in _prepared(checked, drop):
            verdicts.append(_take_in(batch, filled, drop, one, at))
            report(len(verdicts), len(checked))
    except BatchStopped:
        batch.state = Batch.State.STOPPED
        batch.message = "Stopped on request. What went in stays; send the drop again for the rest."
    _conclude(batch, filled, drop, checked, verdicts)


READERS_NICE = 5


@dataclass
class _Begun:
    """A row whose files are looked into: its key, what it became before, its photos and log."""

    each: CheckedRow
    key: str = ""
    earlier: CompletionRecord | None = None
    photos: dict[str, Future] = field(default_factory=dict)
    log: bytes | None = None
    log_read: Future | None = None


def _prepared(checked: list[CheckedRow], drop: Drop) -> Iterator[_Begun]:
    """Yield each row with its files looked into, those of the next few meanwhile."""
    rows = iter(checked)
    with _Readers() as readers:
        waiting = _begin(readers, rows, drop)
        while waiting:
            following = _begin(readers, rows, drop)
            new = [one.each.order for one in waiting if one.each.good and one.earlier is None]
            prefetch_related_objects(new, *OF_THE_PIT)
            yield from waiting
            waiting = following


class _Readers:
    """The processes that read a drop's files: a photo on every core, logs as they come.

    A photo's bytes don't come here: its picture is put into a folder beside the data, from where
    it is moved to its place.
    """

    def __enter__(self):
        self._cores = len(os.sched_getaffinity(0))
        beside = Path(settings.DATA_DIR) / "drops"
        beside.mkdir(parents=True, exist_ok=True)
        self._folder = TemporaryDirectory(dir=beside, prefix=UNFINISHED)
        self._put = (f"{self._folder.name}/{number}.jpg" for number in count())
        self._logs = Apart(PullLogError)
        self._idle: SimpleQueue[Apart] = SimpleQueue()
        for _ in range(self._cores):
            process = Apart(PictureRefused)
            # Whoever writes goes first: else readers that are ahead keep a core from it, and then
            # wait for it with a core idle.
            process.call(os.nice, READERS_NICE)
            self._idle.put(process)
        self._threads = ThreadPoolExecutor(self._cores)
        self._log_thread = ThreadPoolExecutor(1)
        return self

    def __exit__(self, *_):
        for threads in (self._threads, self._log_thread):
            threads.shutdown(cancel_futures=True)
        self._logs.close()
        for _ in range(self._cores):
            self._idle.get().close()
        self._folder.cleanup()

    def photo(self, drop: Drop, key: str) -> Future:
        """Have a photo made clean; the result is it, or the sentence why it cannot be kept."""
        return self._threads.submit(
            self._clean, drop.names[key], *drop.member(key), next(self._put)
        )

    def log(self, content: bytes, name: str, machine: dict) -> Future:
        """Have a log read; the result raises `PullRefused` where it cannot be."""
        return self._log_thread.submit(log_read, content, name, machine, process=self._logs)

    def _clean(self, name: str, *asked) -> CleanPhoto | str:
        process = self._idle.get()
        try:
            return process.call(cleaned_of_drop, *asked)
        except PictureRefused as error:
            return f"{name} {error}"
        finally:
            self._idle.put(process)


def _begin(readers: _Readers, rows: Iterator[CheckedRow], drop: Drop) -> list[_Begun]:
    begun = [_Begun(check_cells(each)) for each in islice(rows, _TOGETHER)]
    good = [one for one in begun if one.each.good]
    again = handed_in_by_drop(one.each.order.pk for one in good)
    for one in good:
        if one.each.order.pk in again:  # no photo that was handed in before is decoded again
            one.each.digests = {c: _digest(drop, key) for c, key in one.each.files.items()}
            one.key = key_of(one.each)
    known = handed_in_before(one.key for one in good if one.key)
    for one in good:
        one.earlier = known.get(one.key)
        if one.earlier is None:
            _look_into(readers, drop, one)
    return begun


def _digest(drop: Drop, key: str) -> bytes:
    return sha256(drop.read(key) or b"").digest()


def _look_into(readers: _Readers, drop: Drop, one: _Begun) -> None:
    """Have the files of a row read while others are written."""
    files = dict(one.each.files)
    log = files.pop(LOG, None)
    if log is not None:
        content = drop.read(log) or b""
        one.each.digests[LOG] = sha256(content).digest()
        if _of_a_pull(one.each):
            one.log = content
            one.log_read = readers.log(content, drop.names[log], one.each.pull.machine())
    one.photos = {column: readers.photo(drop, key) for column, key in files.items()}


def _of_a_pull(each: CheckedRow) -> bool:
    return each.pull is not None and each.form.cleaned_data["outcome"] in ("REPLACED", "STOPPED")


def _take_in(batch, filled: FilledForm, drop: Drop, one: _Begun, at: datetime) -> dict:
    """Return the verdict of one row, having taken it in or held it."""
    each = one.each
    if one.earlier is not None:
        return _verdict(each, ALREADY, [_already(one.earlier)])
    if each.order is not None:
        each.row.faults += objections_to(each, at)
    if each.good:
        try:
            record = _write(batch, drop, one, at)
            return _verdict(each, TAKEN, _cautions(record), record=record.pk)
        except _RowRefused as error:
            each.row.faults += error.faults
    _hold(batch, each)
    said = [f"{filled.cell(each.row, column)}: {sentence}" for column, sentence in each.row.faults]
    return _verdict(each, FIX, said, cells=[column for column, _ in each.row.faults])


def _verdict(each: CheckedRow, verdict: str, said: list[str], **more) -> dict:
    number = each.row.order_number or "no order"
    return {"row": each.row.number, "order": number, "verdict": verdict, "says": said, **more}


def _already(record: CompletionRecord) -> str:
    said = f"Handed in before as revision {record.revision}; nothing was doubled."
    review = getattr(record, "review", None)
    if review is not None and review.answer in CompletionReview.GIVEN_BACK:
        what = review.get_answer_display()
        said += f" It was {what}: {review.reasons} Change the row and send it again."
    return said


def _cautions(record: CompletionRecord) -> list[str]:
    levels = {"STOP": "The reviewer will ask", "CAUTION": "Caution"}
    return [
        f"{levels[finding['level']]}: {finding['message']}"
        for finding in record.findings
        if finding["level"] in levels
    ]


def _write(batch: Batch, drop: Drop, one: _Begun, at: datetime) -> CompletionRecord:
    each, by = one.each, batch.requested_by
    photos = {column: drawn.result() for column, drawn in one.photos.items()}
    bad = [(column, drawn) for column, drawn in photos.items() if isinstance(drawn, str)]
    if bad:
        raise _RowRefused(bad)
    each.digests |= {c: bytes.fromhex(drawn.original_sha256) for c, drawn in photos.items()}
    one.key = key_of(each)
    with transaction.atomic():
        said = each.form.said() | {"idempotency_key": one.key, "pull": _pull(drop, one, by, at)}
        try:
            named = [
                (_kind_of(column), drop.names[each.files[column]], drawn)
                for column, drawn in photos.items()
            ]
            kept = photos_keep(work_order=each.order, photos=named, by=by, at=at)
            record = completion_hand_in(
                work_order=each.order, photos=kept, by=by, at=at,
                user_id=batch.parameters.get("user_id"), **said,
            )  # fmt: skip
        except (CompletionError, DocumentRefused) as error:
            raise _RowRefused([(ORDER, str(error))]) from error
        _refuse_unexplained(record)
    return record


def _kind_of(column: str) -> str:
    return column.replace("photo_", "PHOTO_", 1)


def _pull(drop: Drop, one: _Begun, by: str, at: datetime):
    each = one.each
    if one.log is None:
        return None
    try:
        return pull_record(
            work_order=each.order,
            log=one.log,
            name=drop.names[each.files[LOG]],
            machine=each.pull.machine(),
            pulled_on=each.pull.cleaned_data["pulled_on"],
            by=by,
            at=at,
            read_before=one.log_read.result(),
        )
    except PullRefused as error:
        raise _RowRefused([(LOG, str(error))]) from error


def _refuse_unexplained(record: CompletionRecord) -> None:
    """A record that nobody could accept comes back at once, unless its note says why it stands."""
    if record.note.strip():
        return
    faults = [stop_said(found["rule"], found["message"]) for found in stops(record.findings)]
    if faults:
        raise _RowRefused(faults)


def _hold(batch: Batch, each: CheckedRow) -> None:
    row = each.row
    HeldRow.objects.create(
        batch=batch,
        row_number=row.number,
        reason="\n".join(sentence for _, sentence in row.faults),
        cells=[_kept(row.raw.get(column.name)) for column in columns()],
    )


def _kept(value):
    return value if isinstance(value, int | float | str | bool) or value is None else str(value)


def _conclude(batch: Batch, filled, drop: Drop, checked, verdicts: list[dict]) -> None:
    used = {key for each in checked for key in each.files.values()}
    unused = [
        name for key, name in drop.names.items()
        if key not in used and not key.endswith((".xlsx", ".xlsm"))
    ]  # fmt: skip
    count = {kind: sum(v["verdict"] == kind for v in verdicts) for kind in (TAKEN, ALREADY, FIX)}
    batch.counts = {
        "rows": len(checked),
        "taken": count[TAKEN],
        "already": count[ALREADY],
        "held": count[FIX],
        "blank": filled.blank,
        "locked": len(filled.locked),
        "unused": len(unused),
    }
    batch.result = {"rows": verdicts, "unused": unused[:200]}
