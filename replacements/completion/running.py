"""Taking a drop in, row by row: each row whole or not at all, and never twice."""

import os
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from io import BytesIO
from itertools import islice
from queue import SimpleQueue

from django.db import transaction

from services_inventory.apart import Apart
from services_inventory.models import Batch, HeldRow
from services_inventory.operations.batches import BatchStopped
from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now

from ..domain.pull_logs import PullLogError
from ..models import CompletionRecord, CompletionReview
from ..operations.completions import CompletionError
from ..operations.pulls import PullRefused, pull_record
from ..queries.stored import stops
from .archive import Drop
from .checking import (
    CheckedRow,
    check_rows,
    handed_in_before,
    key_of,
    objections_to,
    stop_said,
)
from .columns import LOG, ORDER, columns
from .handing_in import record_hand_in
from .photos import PhotoRefused, photo_clean, photos_keep
from .pictures import CleanPhoto, PictureRefused
from .reading import FilledForm, form_in

TAKEN, ALREADY, FIX = "TAKEN", "ALREADY", "FIX"
_TOGETHER, _BYTES_TOGETHER = 16, 64 * 1024**2


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
    with Drop(batch.file.path) as drop:
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


@dataclass
class _Begun:
    """A row whose files were looked into: its key, what it became before, its photos."""

    each: CheckedRow
    logs: Apart
    key: str = ""
    earlier: CompletionRecord | None = None
    photos: dict[str, Future] = field(default_factory=dict)


def _prepared(checked: list[CheckedRow], drop: Drop) -> Iterator[_Begun]:
    """Yield each row with its photos drawn anew, the next few being drawn meanwhile."""
    rows = iter(checked)
    with _Readers() as readers:
        waiting = _begin(readers, rows, drop)
        while waiting:
            following = _begin(readers, rows, drop)
            yield from waiting
            waiting = following


class _Readers:
    """The processes that read a drop's files: a photo on every core, logs as they come."""

    def __enter__(self):
        self._cores = len(os.sched_getaffinity(0))
        self.logs = Apart(PullLogError)
        self._idle: SimpleQueue[Apart] = SimpleQueue()
        for _ in range(self._cores):
            self._idle.put(Apart(PictureRefused))
        self._threads = ThreadPoolExecutor(self._cores)
        return self

    def __exit__(self, *_):
        self._threads.shutdown(cancel_futures=True)
        self.logs.close()
        for _ in range(self._cores):
            self._idle.get().close()

    def submit(self, content: bytes, name: str, digest: str) -> Future:
        """Have a photo drawn; the result is the photo, or the sentence why it cannot be."""
        return self._threads.submit(self._clean, content, name, digest)

    def _clean(self, content: bytes, name: str, digest: str) -> CleanPhoto | str:
        process = self._idle.get()
        try:
            return photo_clean(content, name, digest, process)
        except PhotoRefused as error:
            return str(error)
        finally:
            self._idle.put(process)


def _begin(readers: _Readers, rows: Iterator[CheckedRow], drop: Drop) -> list[_Begun]:
    begun = [_Begun(each, readers.logs) for each in _next_few(rows, drop)]
    contents = {}
    for one in begun:
        if one.each.good:
            # Read here, as a zip is read by one thread at a time.
            contents[id(one)] = {c: drop.read(key) or b"" for c, key in one.each.files.items()}
            for column, content in contents[id(one)].items():
                one.each.digests[column] = sha256(content).digest()
            one.key = key_of(one.each)
    known = handed_in_before(one.key for one in begun if one.key)
    for one in begun:
        one.earlier = known.get(one.key)
        if one.key and one.earlier is None:
            one.photos = {
                column: readers.submit(
                    content, drop.names[one.each.files[column]], one.each.digests[column].hex()
                )
                for column, content in contents[id(one)].items()
                if column != LOG
            }  # fmt: skip
    return begun


def _next_few(rows: Iterator[CheckedRow], drop: Drop) -> Iterator[CheckedRow]:
    """Yield the rows whose files are held in memory at once."""
    held = 0
    for each in islice(rows, _TOGETHER):
        yield each
        held += sum(map(drop.size, each.files.values()))
        if held > _BYTES_TOGETHER:
            return


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
    with transaction.atomic():
        said = each.form.said() | {"idempotency_key": one.key, "pull": _pull(drop, one, by, at)}
        try:
            named = [
                (_kind_of(column), drop.names[each.files[column]], drawn)
                for column, drawn in photos.items()
            ]
            kept = photos_keep(work_order=each.order, photos=named, by=by, at=at)
            record = record_hand_in(work_order=each.order, photos=kept, by=by, at=at,
                                    user_id=batch.parameters.get("user_id"), **said)  # fmt: skip
        except (CompletionError, DocumentRefused) as error:
            raise _RowRefused([(ORDER, str(error))]) from error
        _refuse_unexplained(record)
    return record


def _kind_of(column: str) -> str:
    return column.replace("photo_", "PHOTO_", 1)


def _pull(drop: Drop, one: _Begun, by: str, at: datetime):
    each = one.each
    if each.pull is None or each.form.cleaned_data["outcome"] not in ("REPLACED", "STOPPED"):
        return None
    key = each.files[LOG]
    try:
        return pull_record(
            work_order=each.order,
            log=BytesIO(drop.read(key) or b""),
            name=drop.names[key],
            machine=each.pull.machine(),
            pulled_on=each.pull.cleaned_data["pulled_on"],
            by=by,
            at=at,
            process=one.logs,
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
