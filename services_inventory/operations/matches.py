"""Deciding which line a row means: kept for every later file, and decided again when it was wrong.

Each decision is a row of its own; the last one stands. What was recorded by an earlier one moves
with it: the statements are taken back where they were and recorded where they belong.
"""

from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path

from django.db import transaction
from django.db.models import Q

from ..domain.evidence import Basis
from ..models import Batch, Evidence, MatchDecision, MatchQuestion, MatchUse, ServiceLine
from ..queries.held import rows_file
from .batches import batch_open, batch_queue
from .evidence import first_day_counted
from .standings import standings_derive

MOST_AT_ONCE = 20_000
# What a file of some of a batch's rows is read by, as the batch itself was.
CARRIED = ("columns", "source", "sheet", "layer", "true_since")
_SAID = (
    "portion", "material", "basis", "era", "points_seen", "observed_on", "installed_on",
    "installed_year", "diameter_in", "length_ft", "place", "every_earlier_pipe", "below_lead",
    "source", "batch_id", "row_number", "content_key", "fact_code", "document_id",
)  # fmt: skip


class MatchRefused(Exception):
    """The decision cannot be kept; the message says why."""


@transaction.atomic
def match_decide(
    *,
    question: MatchQuestion,
    lines: Iterable[ServiceLine],
    by: str,
    at: datetime,
    reason: str = "",
) -> MatchDecision:
    """Say that the row means these lines (a range of numbers: several; none: one of its own).

    A question that was decided may be decided again, with a reason. What its row said then
    follows at once; a row that is to be a line of its own is taken in again for that.

    Raises
    ------
    MatchRefused
        It was decided so already, no reason is given for another answer, or its identifier
        belongs to a line of the record.
    """
    question = MatchQuestion.objects.select_for_update(of=("self",)).get(pk=question.pk)
    lines, before = list(lines), question.decision
    _refuse(question, before, lines, reason)
    made = MatchDecision.objects.create(
        question=question, reason=reason.strip()[:300], decided_by=by, decided_at=at
    )
    made.lines.set(lines)
    question.decision = made
    question.save(update_fields=["decision"])
    if before is not None:
        made.followed = _follow(before, made, lines, by, at)
        made.save(update_fields=["followed"])
    return made


def _refuse(question: MatchQuestion, before, lines: list[ServiceLine], reason: str) -> None:
    if len(lines) > 1 and not question.given.get("is_range"):
        raise MatchRefused("Only a range of house numbers can mean several lines. Choose one.")
    if before is not None:
        if set(before.lines.all()) == set(lines):
            raise MatchRefused(f"{before.decided_by} decided so already; nothing was changed.")
        if not reason.strip():
            raise MatchRefused("Say why it is decided otherwise now; the reason stays with it.")
    given = question.given.get("location_id") or ""
    known = ServiceLine.objects.filter(location_id=given, given_up=False)
    if not lines and given and known.exists():
        raise MatchRefused(
            f"The identifier {given} belongs to another line, so the row can't be a line of its "
            "own. Correct its identifier in the file."
        )


def matches_clear(score: float):
    """Return the open questions that have one best candidate, alike by this score or more."""
    return MatchQuestion.objects.filter(decision=None, clear=True, score__gte=score)


@transaction.atomic
def matches_decide_as_proposed(*, score: float, number: int, by: str, at: datetime) -> int:
    """Decide every clear question of this score and more for its best candidate.

    Raises
    ------
    MatchRefused
        They are not as many as the person was shown: somebody decided some meanwhile.
    """
    found = list(matches_clear(score).select_for_update(of=("self",)).order_by("id"))
    if len(found) != number or not found:
        raise MatchRefused(
            f"You were shown {number:,} questions, and now there are {len(found):,}. Look at them "
            "as they stand, then decide. Nothing was decided."
        )
    made = MatchDecision.objects.bulk_create(
        [
            MatchDecision(
                question=one, reason=f"as proposed, all from {score:g} of 100",
                decided_by=by, decided_at=at,
            )
            for one in found
        ],
        batch_size=2000,
    )  # fmt: skip
    of_line = MatchDecision.lines.through
    of_line.objects.bulk_create(
        [
            of_line(matchdecision_id=decision.pk, serviceline_id=one.candidates[0]["line_id"])
            for one, decision in zip(found, made, strict=True)
        ],
        batch_size=2000,
    )
    for one, decision in zip(found, made, strict=True):
        one.decision = decision
    MatchQuestion.objects.bulk_update(found, ["decision"], batch_size=500)
    return len(found)


def _follow(before, made, lines: list[ServiceLine], by: str, at: datetime) -> dict:
    """Move what the row said from the lines of one decision to those of another.

    It was never true of the ones and always of the others, so past days follow by what is known
    now; what was filed stays.
    """
    uses = list(before.uses.select_related("batch"))
    rested = _rested(before, uses)
    stays = {line.pk for line in lines}
    leaving = [row for row in rested if row.line_id not in stays]
    took_back = [
        Evidence(
            line_id=row.line_id, portion=row.portion, basis=row.basis, era=row.era, withdraws=row,
            counts_from=first_day_counted(row),
            note=f"The row means another line: {made.reason}", recorded_by=by, recorded_at=at,
        )
        for row in leaving
    ]  # fmt: skip
    moved = _moved(rested, lines, by, at)
    Evidence.objects.bulk_create([*took_back, *moved], batch_size=2000)
    left = {row.line_id for row in leaving}
    _give_up(left, uses)
    if lines:
        MatchUse.objects.bulk_create(
            [MatchUse(decision=made, batch=u.batch, row_number=u.row_number) for u in uses]
        )
    since = min(map(first_day_counted, rested), default=None)
    changed = standings_derive(line_ids={*left, *stays}, recorded_at=at, by=by, since=since)
    gone = ServiceLine.objects.filter(pk__in=left, given_up=True).values_list("location_id")
    return {
        "taken_back": len(took_back),
        "recorded": len(moved),
        "changed": changed,
        "gone": [name for (name,) in gone],
    }


def _rested(before: MatchDecision, uses: list[MatchUse]) -> list[Evidence]:
    """Return what was recorded because of a decision and still counts."""
    wanted = Q(pk__in=())
    for use in uses:
        of_row = Q(batch=use.batch, row_number=use.row_number)
        wanted |= of_row & Q(line__in=before.lines.all())
        if use.batch.first_evidence_id:
            wanted |= of_row & Q(
                pk__range=(use.batch.first_evidence_id, use.batch.last_evidence_id)
            )
    counts = Evidence.objects.filter(withdraws=None, withdrawn_by=None)
    return list(counts.filter(wanted, batch__withdrawn_by=None).order_by("id").distinct())


def _moved(rested: list[Evidence], lines, by: str, at: datetime) -> list[Evidence]:
    """Return the row's statements for the lines that don't have them yet."""
    said = {tuple(getattr(row, name) for name in _SAID): row for row in rested}
    made = []
    for line in lines:
        has = set(
            Evidence.objects.filter(line=line, withdraws=None, withdrawn_by=None).values_list(
                "content_key", flat=True
            )
        )
        made += [
            Evidence(
                line=line, note=row.note, recorded_by=by, recorded_at=at,
                counts_from=_since(row),
                **dict(zip(_SAID, values, strict=True)),
            )
            for values, row in said.items()
            if row.content_key is None or row.content_key not in has
        ]  # fmt: skip
    return made


def _since(row: Evidence) -> date | None:
    """Since when a row is true that is recorded elsewhere; a replacement tells its day itself."""
    return None if row.basis == Basis.REPLACEMENT else first_day_counted(row)


def _give_up(line_ids: set[int], uses: list[MatchUse]) -> None:
    """Take lines out of the inventory that only the row made, and that nothing else speaks of."""
    born = ServiceLine.objects.filter(pk__in=line_ids, batch__in=[use.batch_id for use in uses])
    spoken_of = Evidence.objects.filter(
        line__in=line_ids, withdraws=None, withdrawn_by=None, batch__withdrawn_by=None
    ).values("line_id")
    born.exclude(pk__in=spoken_of).update(given_up=True)


def rows_waiting():
    """Return the questions whose answer stands and whose row was not taken in by it yet."""
    return MatchQuestion.objects.filter(decision__isnull=False, decision__uses=None)


@transaction.atomic
def decided_rows_take_in(*, by: str, at: datetime) -> list[Batch]:
    """Hand the rows that wait for nothing but their answer to the worker, one batch a file."""
    of_file: dict[Batch, dict[int, str]] = {}
    for question in rows_waiting().select_related("batch").order_by("id")[:MOST_AT_ONCE]:
        batch, row = _where(question)
        of_file.setdefault(batch, {})[row] = "decided"
    return [_rows_queued(batch, rows, by, at) for batch, rows in of_file.items()]


def _where(question: MatchQuestion) -> tuple[Batch, int]:
    """Return the latest file that has the question's row, and where."""
    last = MatchUse.objects.filter(decision__question=question).order_by("id").last()
    return (last.batch, last.row_number) if last else (question.batch, question.row_number)


def _rows_queued(batch: Batch, rows: dict[int, str], by: str, at: datetime) -> Batch:
    parameters = {name: batch.parameters[name] for name in CARRIED if batch.parameters.get(name)}
    columns = batch.result.get("columns")
    parameters |= {"columns": columns} if columns else {}
    path = rows_file(batch, rows, f"{Path(batch.file_name).stem}-decided")
    try:
        made = batch_open(kind="INTAKE", by=by, at=at, file=path, parameters=parameters)
    finally:
        path.unlink(missing_ok=True)
    return batch_queue(batch=made, step="APPLY")
