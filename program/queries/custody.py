"""Custody of one line: all that is on record of its replacement, each with person, time, digest.

A row's digest is that of its sealed columns as a line of CSV, as the seals take it; a file's is
that of its bytes. Both are worked out anew here, so that a paper of another day can be compared.
"""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from django.contrib.auth import get_user_model
from django.db.models import Q

from replacements.models import (
    AssemblyAnswer,
    CompletionRecord,
    CompletionReview,
    Consent,
    PullRecord,
    Reinspection,
    Replacement,
    StatementLine,
    ToolStringRecord,
    WorkOrder,
    WorkOrderChange,
)
from services_inventory.domain.days import day_told
from services_inventory.kept_files import KeptFile, local_path
from services_inventory.models import Document, Evidence, ServiceLine
from services_inventory.models.lines import CATEGORIES

from ..domain.seals import digest_of, text_of
from ..models import Seal, Submission, SubmissionFile
from .seals import streams

_string_of = attrgetter("tool_string_id")
MOST_BYTES = 50_000_000  # of a frozen file that is looked into for one row


class Step(NamedTuple):
    """One thing on record: what it is, who put it there and when, and the digest of it now.

    seal : the number of the seal that holds it, None while it waits for the next one
    """

    part: str
    what: str
    who: str
    at: datetime
    sha256: str
    seal: int | None = None
    file: bool = False


def custody(line: ServiceLine, as_of: date) -> list[Step]:
    """Return what is on record of a line's evidence and replacement, the oldest first.

    as_of : the day by which a replacement's record stands or was taken back
    """
    steps = [*_of_line(line), *_of_work(line, as_of), *_of_files(line), *_of_payment(line)]
    steps += _of_submissions(line)
    named = _names(step.who for step in steps)
    told = (step._replace(who=named.get(step.who, step.who)) for step in steps)
    return sorted(told, key=attrgetter("at"))


def _names(users: Iterable[str]) -> dict[str, str]:
    found = get_user_model().objects.filter(username__in=set(users))
    return {
        user.username: f"{user.get_full_name()} ({user.username})"
        for user in found
        if user.get_full_name()
    }


def _steps(part: str, found, who: str, at: str, told) -> Iterator[Step]:
    """Yield a step for each row of a sealed table."""
    rows = list(found)
    if not rows:
        return
    stream = streams()[type(rows[0])._meta.label]
    kept = stream.rows().filter(pk__in=[row.pk for row in rows])
    digests = {one[0]: digest_of(text_of(stream.texts([one]))) for one in kept}
    seals = list(
        Seal.objects.filter(stream=stream.name).order_by("pk").values_list("last_id", "pk")
    )
    for row in rows:
        seal = next((number for last, number in seals if last >= row.pk), None)
        signed = attrgetter(who)(row) or "nobody named"
        said = told(row)
        yield Step(
            part, said[:1].upper() + said[1:], signed, attrgetter(at)(row), digests[row.pk], seal
        )


def _word(row, field: str) -> str:
    """Return what a coded value is called."""
    told = getattr(row, f"get_{field}_display", None)
    words = told() if told else getattr(row, field).replace("_", " ").lower()
    return words[:1].lower() + words[1:]


def _category(code: str) -> str:
    return dict(CATEGORIES).get(code, code).lower()


def _of_line(line: ServiceLine) -> Iterator[Step]:
    yield from _steps(
        "Evidence", Evidence.objects.filter(line=line), "recorded_by", "recorded_at", _evidence
    )
    yield from _steps(
        "Consent", Consent.objects.filter(line=line), "recorded_by", "recorded_at",
        lambda row: f"{_word(row, 'answer')}, answered on {day_told(row.answered_on)}",
    )  # fmt: skip


def _evidence(row: Evidence) -> str:
    portion = _word(row, "portion")
    if row.withdraws_id:
        return f"{portion}: an earlier row is taken back: {row.note or 'no reason is on record'}"
    seen = f", seen on {day_told(row.observed_on)}" if row.observed_on else ""
    return f"{portion}: {_word(row, 'material') or 'not said'}, by {_word(row, 'basis')}{seen}"


def _of_work(line: ServiceLine, as_of: date) -> Iterator[Step]:
    of = {"work_order__line": line}
    orders = WorkOrder.objects.filter(line=line)
    yield from _steps("Order", orders, "created_by", "created_at", lambda row: row.number)
    yield from _steps(
        "Order", WorkOrderChange.objects.filter(**of), "changed_by", "changed_at",
        lambda row: _word(row, "to_state") + (f": {row.reason}" if row.reason else ""),
    )  # fmt: skip
    yield from _steps(
        "Tool string", ToolStringRecord.objects.filter(**of), "recorded_by", "recorded_at",
        lambda row: f"{row.parts.count()} parts",
    )  # fmt: skip
    yield from _checks(line)
    yield from _steps("Pull", PullRecord.objects.filter(**of), "recorded_by", "recorded_at", _pull)
    yield from _steps(
        "Handed in", CompletionRecord.objects.filter(**of), "handed_in_by", "handed_in_at",
        lambda row: f"Revision {row.revision}, finished on {day_told(row.finished_on)}",
    )  # fmt: skip
    reviews = CompletionReview.objects.filter(completion__work_order__line=line)
    yield from _steps(
        "Answer", reviews, "reviewed_by", "reviewed_at",
        lambda row: _word(row, "answer") + (f": {row.reasons}" if row.reasons else ""),
    )  # fmt: skip
    # All that was accepted, also what was taken back since: that is said beside it.
    done = Replacement.objects.filter(line=line).select_related("completion__review")
    stands = set(done.standing(as_of).values_list("pk", flat=True))
    yield from _steps(
        "Replacement", done, "completion.review.reviewed_by", "accepted_at",
        lambda row: f"Replaced on {day_told(row.replaced_on)}: "
        f"{_category(row.category_before)} before, {_category(row.category_after)} after"
        + ("" if row.pk in stands else "; its record was taken back, so it counts nowhere"),
    )  # fmt: skip
    seen = Reinspection.objects.filter(completion__work_order__line=line, recorded_at__isnull=False)
    yield from _steps(
        "Looked at again", seen, "recorded_by", "recorded_at", lambda row: _word(row, "result")
    )


def _checks(line: ServiceLine) -> Iterator[Step]:
    """Yield the checks of each tool string as one thing, by the digest of all its rows."""
    answers = AssemblyAnswer.objects.filter(tool_string__work_order__line=line)
    stream = streams()[AssemblyAnswer._meta.label]
    for string, found in groupby(answers.order_by("tool_string_id", "pk"), _string_of):
        rows = list(found)
        kept = stream.texts(stream.rows().filter(tool_string_id=string))
        failed = sum(row.passed is False for row in rows)
        said = f"{len(rows)} checks answered" + (f", {failed} failed" if failed else "")
        for step in _steps("Tool string", rows[-1:], "answered_by", "answered_at", str):
            yield step._replace(what=said, sha256=digest_of(text_of(kept)))


def _pull(row: PullRecord) -> str:
    peak = f", peak {row.peak_lbf:,.0f} lb" if row.peak_lbf is not None else ""
    back = f", taken back: {row.withdrawn_reason}" if row.withdrawn_at else ""
    return f"Pulled on {day_told(row.pulled_on)}{peak}{back}"


def _of_files(line: ServiceLine) -> Iterator[Step]:
    of_line = (
        Q(evidence__line=line)
        | Q(pk__in=PullRecord.objects.filter(work_order__line=line).values("log_id"))
        | Q(pk__in=CompletionRecord.photos.through.objects.filter(
            completionrecord__work_order__line=line).values("document_id"))
    )  # fmt: skip
    for file in Document.objects.filter(of_line).distinct():
        said = f"{file.name} ({_word(file, 'kind')})"
        yield Step("File", said, file.uploaded_by, file.uploaded_at, file.sha256, file=True)


def _of_payment(line: ServiceLine) -> Iterator[Step]:
    paid = StatementLine.objects.filter(completion__work_order__line=line)
    yield from _steps(
        "Payment", paid.select_related("statement"), "statement.made_by", "statement.made_at",
        lambda row: f"Statement {row.statement.number}: {row.code}, ${row.amount:,.2f}",
    )  # fmt: skip


def _of_submissions(line: ServiceLine) -> Iterator[Step]:
    filed = SubmissionFile.objects.filter(kind="json", submission__frozen_at__isnull=False)
    for file in filed.select_related("submission").order_by("submission__frozen_at"):
        frozen = file.submission
        name = f"Submission of {frozen.year}, revision {frozen.revision}"
        for what, digest in _filed_rows(file, line.location_id):
            yield Step("Filed", f"{name}: {what}", frozen.frozen_by, frozen.frozen_at, digest)
            if frozen.certified_at:
                yield _certified(frozen, name)


def _certified(frozen: Submission, name: str) -> Step:
    signed = f"{name}: certified by {frozen.certified_by}, {frozen.certified_title}"
    return Step("Filed", signed, frozen.certified_by, frozen.certified_at, frozen.digest, file=True)


def _filed_rows(file: SubmissionFile, location_id: str) -> Iterator[tuple[str, str]]:
    """Yield the rows of a frozen file that are about a line, each with its digest."""
    if file.bytes > MOST_BYTES:
        yield "too large to be looked into here; the whole file's digest", file.sha256
        return
    try:
        lists = json.loads(local_path(KeptFile(file.path)).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        yield "its file cannot be read. Restore it from a back-up; its digest was", file.sha256
        return
    for name in ("replacements", "partials"):
        for row in lists.get(name, ()):
            if row.get("location_id") == location_id:
                text = json.dumps(row, sort_keys=True, ensure_ascii=False)
                yield f"its row of {name}", digest_of(text)
