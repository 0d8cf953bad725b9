"""Taking a utility's file into the record, and taking a whole file back."""

import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told
from services_inventory.refused import Refused

from .. import bulk
from ..domain.evidence import read_basis
from ..domain.reporting import Report
from ..facts import sums_keep
from ..intake import applying, matching, said_categories, telling
from ..intake.as_before import MOST_APART, AsBefore, as_before, reading_key
from ..intake.checking import CheckedBatch, RowChecker, RowProblem
from ..intake.columns import ColumnMap, made_of
from ..intake.held import reasons_by_row
from ..intake.lookalikes import lookalikes
from ..intake.outlook import differing, told_moves
from ..intake.reading import Piece, ReadApart
from ..intake.recording import Recorder
from ..intake.said import Source, Standings, Statements
from ..intake.unchanged import Known, Mark, record_mark
from ..models import Batch, HeldRow, Neighborhood, ServiceLine
from ..queries.batches import header_sha256, map_of, table_of
from ..queries.history import before_the_record
from ..queries.own_words import own_words, own_words_used
from ..today import now
from .standings import standings_derive
from .undo import intake_undo, undo_run
from .weighing import NumberingWeigher

__all__ = ["intake_run", "intake_undo", "undo_run"]

SAMPLE = 200
ROWS_PLACED_AT_ONCE = 10_000
ROWS_BETWEEN_REPORTS = 20_000
MOST_CELLS_KEPT = 20_000
STEPS = 10
MOST_FORESEEN = 100_000
STAGES = "stage same held said match also shared fresh back correct before says".split()
MANY = 20_000  # new lines from which the planner's statistics are worth refreshing


def intake_run(*, batch: Batch, report: Report) -> None:
    """Check or apply the batch's file, as its parameter `step` says (CHECK or APPLY).

    Parameters of the batch, all optional: `columns` (a column map), `source` (words for how
    materials are known where the file doesn't say), `sheet`, `layer`, `recorded_at` (ISO),
    `true_since` (ISO day since when what the file says is true: past days follow).
    Checking writes nothing but held rows and counts. Applying is one transaction.

    Raises
    ------
    Refused: the file cannot be used as it is; nothing was changed.
    """
    with bulk.large_work(), _without_collector():
        if batch.parameters.get("step") == "CHECK":
            _check(_understood(batch, report))
            return
        try:
            _apply(_understood(batch, report))
        except _RecordMoved:
            _apply(_understood(batch, report, looks=False))


def _apply(job: "_Job") -> None:
    """Take in a file that was read and understood: each stage once, in this order."""
    with bulk.one_transaction():
        with bulk.snapshot(keep=True):
            _look_back(job)
            _stage(job, _identified(job, _checked(job)))
        with transaction.atomic():
            if (job.known.rows or job.before.rows) and record_mark() != job.mark:
                raise _RecordMoved
            _match(job)
            counts = _compared(job)
            writer = _write(job, counts["new"])
            _derive(job, writer)
            _tell(job, writer)
            _finish(job, counts, Batch.State.APPLIED)
    if counts["new"] >= MANY:
        bulk.settle_statistics()


def _check(job: "_Job") -> None:
    """Count what applying would do: the same stages, but for those that write."""
    if job.recorder.all_new:
        with bulk.snapshot():
            counts = _counts_of_first_file(job)
    else:
        with bulk.one_transaction():
            with bulk.snapshot(keep=True):
                _look_back(job)
                _stage(job, _identified(job, _checked(job)))
                _match(job)
                counts = _compared(job)
            _rehearse(job)
    with transaction.atomic():
        _finish(job, counts, Batch.State.CHECKED)


@contextmanager
def _without_collector() -> Iterator[None]:
    """Pause the search for reference cycles: millions of short tuples hold none."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass
class _Job:
    """One run over one file: what reads, checks and numbers, and what was found."""

    batch: Batch
    table: ReadApart
    columns: ColumnMap
    origin: str
    checker: RowChecker
    recorder: Recorder
    known: Known
    before: AsBefore
    key: str
    source: str
    recorded_at: datetime
    report: Report
    mark: Mark | None = None
    total: int = 0
    good: int = 0
    highest_row: int = 0
    unchanged: int = 0
    apart: set[int] = field(default_factory=set)
    same: set[int] = field(default_factory=set)
    uses: list[tuple[int, int]] = field(default_factory=list)
    questions: list[matching.Question] = field(default_factory=list)
    lines: int = 0
    step: int = 0
    reasons: dict[int, str] = field(default_factory=dict)
    cells: dict[int, list] = field(default_factory=dict)
    doubts: dict[str, list[RowProblem]] = field(default_factory=dict)
    first_cells: list[list] = field(default_factory=list)
    moves: list[list] = field(default_factory=list)
    said: list[list] = field(default_factory=list)
    lines_touched: int | None = None
    corrected: list[tuple[str, int]] = field(default_factory=list)
    old_words: dict[str, list[int]] = field(default_factory=dict)
    lookalikes: str = ""
    looked_at: int = 0

    def advance(self) -> None:
        """Report that one more of the steps after reading is done."""
        self.step += 1
        rows = max(self.total, 1)
        self.report(rows + rows * min(self.step, STEPS) // STEPS, 2 * rows)


def _understood(batch: Batch, report: Report, *, looks: bool = True) -> _Job:
    """Open the file, and tell which column holds what and how materials are known."""
    parameters = batch.parameters
    recorded_at = parameters.get("recorded_at")
    recorded_at = datetime.fromisoformat(recorded_at) if recorded_at else now()
    source = _source(parameters.get("source") or "")
    since = _true_since(parameters.get("true_since"), localdate(recorded_at))
    table = table_of(batch)
    columns, origin, _ = map_of(batch, table)
    own = own_words(made_of(columns, table.header).header)
    checker = RowChecker(columns, table.header, as_of=localdate(recorded_at), own=own)
    statements = Statements(source, recorded_at, since)
    standings = Standings(statements, NumberingWeigher.on(localdate(recorded_at)))
    recorder = Recorder(statements, standings, cache(_areas), _area_names())
    known = Known(statements, looks and since is None)
    recorder.all_new = not ServiceLine.objects.exists()
    return _Job(
        batch, table, columns, origin, checker, recorder, known, AsBefore(checker),
        reading_key(batch, table, columns, checker), _source_key(batch, table), recorded_at,
        report,
    )  # fmt: skip


def _source_key(batch: Batch, table: ReadApart) -> str:
    """Return by what a later file is known to come from the same source: feed, or headings."""
    feed = batch.parameters.get("feed")
    return f"feed {feed}" if feed else header_sha256(table.header, table.sheet)


def _source(words: str) -> Source:
    if not words:
        return Source()
    reading = read_basis(words)
    if reading.code is None:
        raise Refused(f"The source {words!r} is not known. {reading.reason}")
    return Source(str(reading.code), words[:120])


def _true_since(day: str | None, today: date) -> date | None:
    """Return the day since when a file's statements are true; None: from when they are recorded."""
    if not day:
        return None
    since = date.fromisoformat(day)
    if since > today:
        raise Refused(
            f"The file is said to be true since {day_told(since)}, and that has not come yet."
        )
    if sentence := before_the_record(since):
        raise Refused(sentence)
    return since


def _areas() -> tuple[list[int], list]:
    """Return ids and polygons of the neighborhoods that have a boundary."""
    import shapely

    areas = Neighborhood.objects.exclude(boundary_wkb=None).order_by("id")
    found = [area for area in areas.values_list("id", "boundary_wkb") if area[1]]
    return [pk for pk, _ in found], [shapely.from_wkb(bytes(wkb or b"")) for _, wkb in found]


def _area_names() -> dict[str, int]:
    return {
        name.casefold(): pk
        for pk, name in Neighborhood.objects.order_by("id").values_list("id", "name")
    }


class _RecordMoved(Exception):
    """Somebody wrote between the reading of the file and the writing of the record."""


def _look_back(job: _Job) -> None:
    """Mark the record as it is, and find the earlier file whose rows need not be read again."""
    job.mark = record_mark()
    if job.known.looks:
        job.before = as_before(
            job.key, job.mark, job.batch, job.table, job.checker, job.recorded_at
        )


def _counts_of_first_file(job: _Job) -> dict[str, int]:
    """Count a check against an empty record: whatever is not held is new.

    What becomes of the rows is found of at most `MOST_FORESEEN`, spread over the file.
    """
    every = -(-job.table.estimated_rows // MOST_FORESEEN) or 1
    for number, checked in enumerate(_checked(job)):
        held = job.recorder.judge(checked, looks=number % every == 0)
        job.reasons.update(held)
        job.good += len(checked.row_numbers) - len(held)
    _find_repeats(job)
    out, outlook = job.same | job.reasons.keys(), job.recorder.outlook
    job.moves = told_moves((), outlook.of_new(out))
    if outlook.heard:
        job.said = differing((*one, rows) for one, rows in outlook.said_of_new(out).items())
    job.looked_at = outlook.looked_at if every > 1 else 0
    kept, same = len(job.reasons), len(job.same)
    new = job.total - kept - same
    return {"new": new, "changed": 0, "unchanged": same, "held": kept, "total": job.total}


def _checked(job: _Job) -> Iterator[CheckedBatch]:
    """Check the file in pieces; what is wrong with rows is collected in the job."""
    estimated, reported = max(job.table.estimated_rows, 1), 0
    for piece in job.table.pieces():
        job.first_cells = job.first_cells or [cells for _, cells in piece.rows[:SAMPLE]]
        others = job.before.others(piece)
        checked = job.checker.check_many(others)
        job.good += len(piece) - len(others)
        if checked.problems:
            _collect(job, checked.problems, piece)
        for note in checked.notes:
            job.doubts.setdefault(note.column, []).append(note)
        if len(job.apart) <= MOST_APART:
            job.apart.update(one.row_number for one in (*checked.notes, *checked.words))
        job.total += len(piece)
        job.highest_row = piece.numbers[-1]
        if job.total >= reported + ROWS_BETWEEN_REPORTS:
            reported = job.total
            job.report(min(job.total, estimated), 2 * estimated)
        if checked.row_numbers:
            yield checked


def _collect(job: _Job, problems, piece: Piece) -> None:
    reasons = reasons_by_row(problems)
    job.reasons.update(reasons)
    if len(job.cells) < MOST_CELLS_KEPT:
        job.cells.update((row, cells) for row, cells in piece if row in reasons)


def _stage(job: _Job, rows: Iterator[tuple]) -> None:
    """Stage every row that repeats no earlier one."""
    applying.stage_rows(rows)
    early = set(job.reasons)
    _find_repeats(job)
    bulk.stage("intake_same", [("row", "KEY")], ((row,) for row in job.same))
    bulk.execute("DELETE FROM intake_stage WHERE row IN (SELECT row FROM intake_same)")
    late = ((row, why) for row, why in job.reasons.items() if row not in early)
    bulk.stage("intake_held", applying.HELD, late)
    bulk.index("intake_stage")
    applying.stage_statements(job.recorder)
    job.good -= len(job.same)


def _identified(job: _Job, pieces: Iterator[CheckedBatch]) -> Iterator[tuple]:
    """Yield the good rows that may say something new, each with its line's name and its place."""
    screen = (lambda rows: rows) if job.recorder.all_new else job.known.fresh
    waiting: list[tuple] = []
    for checked in pieces:
        rows, held = job.recorder.record(checked)
        job.reasons.update(held)
        job.good += len(rows)
        waiting += screen(rows)
        if len(waiting) >= ROWS_PLACED_AT_ONCE:
            yield from job.recorder.placed(waiting)
            waiting = []
    yield from job.recorder.placed(waiting)


def _find_repeats(job: _Job) -> None:
    """Hold rows that contradict each other; note those that repeat an earlier row."""
    early = set(job.reasons)
    repeats = job.checker.repeats(job.table.rows)
    for problem in job.checker.repeat_problems(repeats):
        job.reasons.setdefault(problem.row_number, problem.sentence)
    job.same = {row for row, _ in repeats.same if row not in early}


def _match(job: _Job) -> None:
    """Find the line of the record that each row means, and what a person decides."""
    job.lines = ServiceLine.objects.count()
    job.recorder.all_new = job.recorder.all_new and not job.lines
    known: Iterable = job.known.matches(job.same | job.reasons.keys())
    heard = job.recorder.outlook.heard
    if not (job.recorder.rows or heard):  # nothing was staged that they could be held against
        job.unchanged, known = sum(1 for _ in known), ()
    job.questions = matching.match(
        known, record_is_empty=not job.lines, uses=job.uses, rows_of=job.before.rows_of
    )
    job.advance()


def _compared(job: _Job) -> dict[str, int]:
    """Tell what the rows change, and count them; collect why good rows are held after all."""
    applying.find_changes(job.recorder)
    job.advance()
    if applying.stage_corrections(job.source, job.old_words):
        job.corrected = applying.corrected()
    job.advance()
    for row, reason in bulk.stream("SELECT row, reason FROM intake_held"):
        job.reasons.setdefault(row, reason)
    unchanged = job.unchanged + job.before.count(job.same | job.reasons.keys())
    counts = applying.counts(job.total, job.good, len(job.same), unchanged)
    if job.batch.parameters.get("feed"):
        back = bulk.number("SELECT count(*) FROM intake_back")
        job.lines_touched = counts["new"] - back + applying.lines_changed()
    return counts


def _write(job: _Job, new: int) -> applying.Writer:
    writer = applying.Writer(job.batch, job.recorded_at, job.recorder)
    job.recorder.standings.facts.keep()
    before = bulk.number(f"SELECT max(id) FROM {applying.EVIDENCE}")
    if new:
        writer.stage_outcomes()
        writer.check_codes()
        tables = (matching.PREMISE, matching.LINE, applying.EVIDENCE, applying.CHANGE)
        many = new > max(job.lines, MANY)
        with bulk.built_after(*(tables if many else ()), first=not job.lines):
            writer.write_new(job.highest_row)
            job.advance()
        sums_keep(job.recorder.standings.sums())
        job.advance()
    said_categories.stage_before()
    writer.write_changes()
    job.advance()
    matching.questions_write(job.batch, job.questions)
    matching.uses_write(job.batch, job.uses)
    job.batch.first_evidence_id, job.batch.last_evidence_id = writer.evidence_range(before)
    return writer


def _rehearse(job: _Job) -> None:
    """Write what changes known lines, tell what comes of it, and let it all go again."""
    job.lookalikes = lookalikes(job.before.names)
    with transaction.atomic():
        writer = applying.Writer(job.batch, job.recorded_at, job.recorder)
        said_categories.stage_before()
        writer.write_fresh()
        _derive(job, writer)
        applying.note_outcomes(job.recorder)
        _tell(job, None)
        transaction.set_rollback(True)


def _tell(job: _Job, writer: applying.Writer | None) -> None:
    """Tell how categories move and where the file says otherwise; a writer keeps the latter."""
    out, outlook = job.same | job.reasons.keys(), job.recorder.outlook
    job.moves = told_moves(said_categories.moved(), outlook.of_new(out))
    if outlook.heard:
        outlook.stage_said(out)
        known = said_categories.said_of_known()
        new = ((*one, rows) for one, rows in outlook.said_of_new(out).items())
        job.said = differing((*known, *new))
        if writer:
            said_categories.write_said(job.batch, writer.first_line)


def _derive(job: _Job, writer: applying.Writer) -> None:
    lines = writer.lines_to_derive()
    if lines:
        standings_derive(
            line_ids=lines,
            recorded_at=job.recorded_at,
            by=job.batch.requested_by,
            batch=job.batch,
            since=writer.since,
        )
    job.advance()


def _finish(job: _Job, counts: dict[str, int], state: str) -> None:
    batch = job.batch
    mended = list(batch.held_rows.filter(mended__isnull=False))
    HeldRow.objects.filter(batch=batch).delete()
    bulk.fill(
        "services_inventory_heldrow",
        ("batch_id", "row_number", "reason", "cells"),
        (
            (batch.pk, row, job.reasons[row], telling.cells_as_json(cells))
            for row, cells in _held_cells(job)
        ),
    )
    for row in mended:  # what was typed into a row stays while it is held
        batch.held_rows.filter(row_number=row.row_number).update(
            mended=row.mended, mended_by=row.mended_by, mended_at=row.mended_at
        )
    batch.counts = counts
    batch.result = {
        "columns": job.columns.to_dict(),
        "columns_from": job.origin,
        "not_taken_in": telling.not_taken_in(job),
        "left_values": telling.left_values(job),
        "moves": job.moves,
        "looked_at": job.looked_at,
        "lines_touched": counts["new"] if job.lines_touched is None else job.lines_touched,
        "said": telling.keepable_json(job.said),
        "notes": [*job.table.notes, *telling.lacking(job), *telling.doubtful(job)],
        "held_by": telling.held_by(job.reasons),
        "words": telling.keepable_json(job.checker.unread.told()),
        "more_words": job.checker.unread.more,
        "own_words": own_words_used(job.checker.header),
        "recorded_at": job.recorded_at.isoformat(),
        "source": job.source,
        "sheets": [name for name, _ in job.table.sheets if name != job.table.sheet],
        "true_since": batch.parameters.get("true_since"),
        "as_read": _as_read(job),
    }
    batch.state = state
    batch.save()
    bulk.drop(*(f"intake_{name}" for name in STAGES), "standing_outcome")


def _as_read(job: _Job) -> dict:
    """Return by what a later file finds the rows that this one took in plainly."""
    out = job.apart | job.reasons.keys() | {row for row, _ in job.uses}
    out.update(job.recorder.outlook.heard_rows(), *job.old_words.values())
    if job.mark is None or len(out) > MOST_APART:
        return {}
    return {"key": job.key, "mark": job.mark, "apart": sorted(out)}


def _held_cells(job: _Job) -> Iterator[tuple[int, list]]:
    """Yield (row, cells) of held rows in order, from memory or from the file once more."""
    if job.reasons.keys() <= job.cells.keys():
        yield from sorted((row, job.cells[row]) for row in job.reasons)
        return
    for row, cells in job.table.rows():
        if row in job.reasons:
            yield row, cells
