"""Deciding which line a row means: kept for every later file, and decided again when it was wrong.

Each decision is a row of its own; the last one stands. What was recorded by an earlier one moves
with it: the statements are taken back where they were and recorded where they belong.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from hashlib import sha256

from django.db import transaction
from django.db.models import Q

from services_inventory.refused import Refused

from ..domain.evidence import Basis
from ..models import Batch, Evidence, MatchDecision, MatchQuestion, MatchUse, ServiceLine
from .evidence import MOST_AT_ONCE, evidence_misread, first_day_counted
from .mending import rows_take_in
from .said_categories import said_follow
from .standings import standings_derive

_SAID = (
    "portion", "material", "basis", "era", "points_seen", "observed_on", "installed_on",
    "installed_year", "diameter_in", "length_ft", "place", "every_earlier_pipe", "below_lead",
    "source", "batch_id", "row_number", "content_key", "fact_code", "document_id",
)  # fmt: skip


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
    Refused: it was decided so already, no reason is given for another answer, or its identifier
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
        made.followed = _follow([before], made, made.reason, lines, by, at)
        made.save(update_fields=["followed"])
    return made


def _refuse(question: MatchQuestion, before, lines: list, reason: str) -> None:
    if len(lines) > 1 and not question.given.get("is_range"):
        raise Refused("Only a range of house numbers can mean several lines. Choose one.")
    if before is not None:
        if set(before.lines.all()) == set(lines):
            raise Refused(f"{before.decided_by} decided so already; nothing was changed.")
        if not reason.strip():
            raise Refused("Say why it is decided otherwise now; the reason stays with it.")
    given = question.given.get("location_id") or ""
    known = ServiceLine.objects.filter(location_id=given, given_up=False)
    if not lines and given and known.exists():
        raise Refused(
            f"The identifier {given} belongs to another line, so the row can't be a line of its "
            "own. Correct its identifier in the file."
        )


def matches_clear(score: float):
    """Return the open questions that have one best candidate, alike by this score or more."""
    return MatchQuestion.objects.waiting().filter(clear=True, score__gte=score)


def seen(questions) -> str:
    """Return what says which questions a person was shown, and with which best lines."""
    told = questions.order_by("id").values_list("id", "candidates__0__line_id")
    return sha256(repr(list(told)).encode()).hexdigest()


@transaction.atomic
def matches_decide_as_proposed(*, score: float, shown: str, by: str, at: datetime) -> int:
    """Decide every clear question of this score and more for its best candidate.

    Raises
    ------
    Refused: they are not those that the person was shown (`seen`): somebody decided some meanwhile.
    """
    found = list(matches_clear(score).select_for_update(of=("self",)).order_by("id"))
    if not found or seen(matches_clear(score)) != shown:
        raise Refused(
            f"These are not the rows that you were shown: now there are {len(found):,}. Look at "
            "them as they stand, then decide. Nothing was decided."
        )
    answers = [(one, [one.candidates[0]["line_id"]]) for one in found]
    _keep(answers, f"as proposed, all from {score:g} of 100", by, at)
    return len(answers)


@transaction.atomic
def matches_decide(
    *, answers: Mapping[int, list[int]], by: str, at: datetime
) -> tuple[int, list[str]]:
    """Keep a page of answers in one act: {question: lines; none for a line of its own}.

    Returns
    -------
    tuple
        How many were kept, and a sentence about each that can't be; it stays as it is.
    """
    found = MatchQuestion.objects.filter(pk__in=answers).select_for_update(of=("self",))
    good, refused = [], []
    for question in found.order_by("id"):
        lines = answers[question.pk]
        try:
            if question.decision_id:
                raise Refused("it was decided meanwhile; see the decided ones.")
            if set(lines) - {one["line_id"] for one in question.candidates}:
                raise Refused("what was sent is none of its lines.")
            _refuse(question, None, lines, "")
        except Refused as error:
            refused.append(f"{question.given.get('address') or question}: {error}")
        else:
            good.append((question, lines))
    _keep(good, "", by, at)
    return len(good), refused


def _keep(answers: list[tuple[MatchQuestion, list[int]]], reason: str, by: str, at) -> None:
    """Write what was decided of open questions, in one act."""
    made = MatchDecision.objects.bulk_create(
        [
            MatchDecision(question=one, reason=reason, decided_by=by, decided_at=at)
            for one, _ in answers
        ],
        batch_size=2000,
    )
    of_line = MatchDecision.lines.through
    of_line.objects.bulk_create(
        [
            of_line(matchdecision_id=decision.pk, serviceline_id=line)
            for (_, lines), decision in zip(answers, made, strict=True)
            for line in lines
        ],
        batch_size=2000,
    )
    for (one, _), decision in zip(answers, made, strict=True):
        one.decision = decision
    MatchQuestion.objects.bulk_update([one for one, _ in answers], ["decision"], batch_size=500)


@transaction.atomic
def matches_take_back(
    *, decision: MatchDecision, whole_act: bool, reason: str, by: str, at: datetime
) -> dict:
    """Open questions again: this one, or all that were decided in the same act and still stand so.

    What their rows said is taken back, as never true of those lines, until they are decided anew.

    Returns
    -------
    dict
        As `_follow` tells it, with `questions`: how many are open again.

    Raises
    ------
    Refused: none stands as it was decided, or rows were taken in by it and no reason is given.
    """
    act = Q(decision=decision)
    if whole_act:
        act = Q(decision__decided_by=decision.decided_by, decision__decided_at=decision.decided_at)
    found = MatchQuestion.objects.filter(act).select_for_update(of=("self",))
    questions = list(found.select_related("decision").order_by("id"))
    if not questions:
        raise Refused("That was decided otherwise or taken back already.")
    before = [one.decision for one in questions]
    reason = reason.strip()[:300]
    if not reason and MatchUse.objects.filter(decision__in=before).exists():
        raise Refused("Rows were taken in by it: say why it is taken back.")
    MatchDecision.objects.bulk_create(
        [
            MatchDecision(
                question=one, reason=reason, asks_again=True, decided_by=by, decided_at=at
            )
            for one in questions
        ],
        batch_size=2000,
    )
    MatchQuestion.objects.filter(pk__in=[one.pk for one in questions]).update(decision=None)
    return {"questions": len(questions)} | _follow(before, None, reason, [], by, at)


def _follow(before: list, made, why: str, lines: list[ServiceLine], by: str, at: datetime) -> dict:
    """Move what rows said from the lines of decisions to those of another, or take it back.

    It was never true of the ones and always of the others, so past days follow by what is known
    now; what was filed stays.
    """
    uses = list(MatchUse.objects.filter(decision__in=before).select_related("batch"))
    rested = _rested(before, uses)
    stays = {line.pk for line in lines}
    leaving = [row for row in rested if row.line_id not in stays]
    moved = _moved(rested, lines, by, at)
    evidence_misread(rows=leaving, why=f"The row means another line: {why}", by=by, at=at)
    Evidence.objects.bulk_create(moved, batch_size=2000)
    said_follow(uses, stays)
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
        "taken_back": len(leaving),
        "recorded": len(moved),
        "changed": changed,
        "gone": [name for (name,) in gone],
    }


def _rested(before: list[MatchDecision], uses: list[MatchUse]) -> list[Evidence]:
    """Return what was recorded because of decisions and still counts."""
    decided = MatchDecision.lines.through.objects.filter(matchdecision__in=before)
    lines = decided.values("serviceline_id")
    counts = Evidence.objects.filter(withdraws=None, withdrawn_by=None, batch__withdrawn_by=None)
    rows_of: dict[Batch, list[int]] = {}
    for use in uses:
        rows_of.setdefault(use.batch, []).append(use.row_number)
    found: dict[int, Evidence] = {}
    for batch, rows in rows_of.items():
        theirs = Q(line__in=lines)
        if batch.first_evidence_id:
            theirs |= Q(pk__range=(batch.first_evidence_id, batch.last_evidence_id))
        for start in range(0, len(rows), MOST_AT_ONCE):
            some = rows[start : start + MOST_AT_ONCE]
            said = counts.filter(theirs, batch=batch, row_number__in=some)
            found.update((row.pk, row) for row in said)
    return [found[pk] for pk in sorted(found)]


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
    return [
        rows_take_in(batch=batch, rows=rows, ending="decided", by=by, at=at)
        for batch, rows in of_file.items()
    ]


def _where(question: MatchQuestion) -> tuple[Batch, int]:
    """Return the latest file that has the question's row, and where."""
    last = MatchUse.objects.filter(decision__question=question).order_by("id").last()
    return (last.batch, last.row_number) if last else (question.batch, question.row_number)
