"""Recording evidence, and taking it back by a new row. The standing follows at once."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.refused import Refused

from ..domain.evidence import EvidenceRecord, contradictions
from ..domain.evidence.past import works_of
from ..facts import TELLING, Facts
from ..models import Batch, Evidence, ServiceLine
from ..policy import evidence_policy
from ..queries.evidence_rows import COLUMNS, record_of
from ..queries.history import before_the_record
from ..statements import Statement, content_key
from .standings import standings_derive

MOST_AT_ONCE = 20_000


class EvidenceRefused(Refused):
    """The evidence contradicts itself; the message says how, and nothing was recorded."""


def evidence_record(
    *, line: ServiceLine, portion: str, basis: str, by: str, recorded_at: datetime, **said
) -> Evidence:
    """Record one piece of evidence about a line and derive the line's standing.

    Parameters
    ----------
    said : any of material, era, points_seen, place, observed_on, installed_on,
        installed_year, diameter_in (inches), length_ft, every_earlier_pipe, below_lead,
        source, note, document, batch, row_number, resolves, both_true; counts_from, the day since
        when it is true, from which past days follow (left out: the day it is recorded)

    Raises
    ------
    EvidenceRefused: it cannot be true: seen before it was laid, dated after today, a year such as
        20255.
    """
    evidence = Evidence(
        line=line, portion=portion, basis=basis, recorded_by=by, recorded_at=recorded_at, **said
    )
    _refuse_contradictions(evidence)
    _refuse_before_the_record(evidence)
    with transaction.atomic():
        _number([evidence], recorded_at)
        evidence.save()
        standings_derive(line_ids=[line.pk], recorded_at=recorded_at, by=by, batch=evidence.batch)
    line.refresh_from_db()
    return evidence


def _number(rows: Iterable[Evidence], recorded_at: datetime) -> None:
    """Give plain statements the numbers by which the database compares and adds them up."""
    facts = Facts(evidence_policy(localdate(recorded_at)))
    for evidence in rows:
        evidence.content_key = _content_key(evidence)
        if evidence.content_key is not None:
            evidence.fact_code = facts.code(*(getattr(evidence, name) for name in TELLING))
    facts.keep()


def _content_key(evidence: Evidence) -> int | None:
    """The number of a plain statement; what says more than an intake row can has none."""
    more = (
        "length_ft", "place", "every_earlier_pipe", "below_lead", "resolves", "withdraws_id",
        "counts_from",
    )  # fmt: skip
    if not evidence.material or any(getattr(evidence, name) for name in more):
        return None
    said = {name: getattr(evidence, name) for name in Statement._fields}
    return content_key(Statement(**said))


def _refuse_contradictions(evidence: Evidence) -> None:
    try:
        record = _record_of(evidence)
    except ValueError as error:
        raise EvidenceRefused(f"{error}. Choose one of the listed words.") from error
    found = contradictions(record)
    if found:
        raise EvidenceRefused(" ".join(found))


def evidence_record_many(
    *, rows: list[dict], by: str, recorded_at: datetime, batch: Batch | None = None
) -> int:
    """Record many pieces of evidence (dicts of `evidence_record`'s names, with `line_id`).

    All or none are recorded; standings are derived once. Returns the number of lines whose
    category changed.

    Raises
    ------
    EvidenceRefused: one row cannot be true; the message names its place in `rows`, counted from 1.
    """
    made = []
    for number, row in enumerate(rows, start=1):
        evidence = Evidence(recorded_by=by, recorded_at=recorded_at, batch=batch, **row)
        try:
            _refuse_contradictions(evidence)
            _refuse_before_the_record(evidence)
        except EvidenceRefused as error:
            raise EvidenceRefused(f"Row {number}: {error}") from error
        made.append(evidence)
    with transaction.atomic():
        _number(made, recorded_at)
        Evidence.objects.bulk_create(made, batch_size=2000)
        return standings_derive(
            line_ids={evidence.line_id for evidence in made},
            recorded_at=recorded_at,
            by=by,
            batch=batch,
        )


def evidence_withdraw(
    *, evidence: Evidence, by: str, recorded_at: datetime, reason: str, never_true: bool = False
) -> Evidence:
    """Take a piece of evidence back by a new row that says why.

    Parameters
    ----------
    never_true : it belongs to another house or was mis-keyed, so it counts for no day, past days
        by what is known now included; else it counts up to now and no longer. What was only taken
        back so far can be said to be never true afterwards.

    Raises
    ------
    EvidenceRefused: it was taken back already, or no reason is given.
    """
    if not reason.strip():
        raise EvidenceRefused("Say why this evidence is taken back.")
    with transaction.atomic():
        _locked(evidence.line_id)
        before = Evidence.objects.filter(withdraws=evidence)
        if before.filter(counts_from__isnull=False).exists():
            raise EvidenceRefused("This evidence was taken back already, as never true.")
        if before.exists() and not never_true:
            raise EvidenceRefused("This evidence was taken back already.")
        row = Evidence.objects.create(
            line_id=evidence.line_id,
            portion=evidence.portion,
            basis=evidence.basis,
            era=evidence.era,
            withdraws=evidence,
            counts_from=_first_day_of(evidence.line_id) if never_true else None,
            note=reason.strip(),
            recorded_by=by,
            recorded_at=recorded_at,
        )
        standings_derive(line_ids=[evidence.line_id], recorded_at=recorded_at, by=by)
    return row


def evidence_record_again(
    *, evidence: Evidence, by: str, recorded_at: datetime, reason: str
) -> Evidence:
    """Record once more what was taken back by mistake: the same statement, true since then.

    Raises
    ------
    EvidenceRefused: no reason is given, it was not taken back, or it stands again already.
    """
    if not reason.strip():
        raise EvidenceRefused("Say why this evidence is recorded again.")
    with transaction.atomic():
        _locked(evidence.line_id)
        back = Evidence.objects.filter(withdraws=evidence).order_by("-id").first()
        if back is None:
            raise EvidenceRefused("This evidence was not taken back; it stands.")
        said = {name: getattr(evidence, name) for name in _SAYS}
        since = Evidence.objects.filter(line=evidence.line_id, id__gt=back.pk, **said)
        if since.filter(withdrawn_by__isnull=True).exists():
            raise EvidenceRefused("This evidence was recorded again already.")
        return evidence_record(
            line=evidence.line,
            by=by,
            recorded_at=recorded_at,
            note=f"{evidence.note}\nRecorded again: {reason.strip()}".strip(),
            counts_from=_record_of(evidence).counts_on,
            **said,
        )


_SAYS = (
    "portion", "material", "basis", "era", "points_seen", "observed_on", "installed_on",
    "installed_year", "diameter_in", "length_ft", "place", "every_earlier_pipe", "below_lead",
    "source", "document",
)  # fmt: skip


def _locked(line_id: int) -> ServiceLine:
    """Let one person at a time take back what is said of a line."""
    return ServiceLine.objects.select_for_update().get(pk=line_id)


def _record_of(evidence: Evidence) -> EvidenceRecord:
    return record_of([getattr(evidence, name) for name in COLUMNS])


def evidence_misread(*, rows: Sequence[Evidence], why: str, by: str, at: datetime) -> None:
    """Take statements back as never true for how a file was read; a file may say them once more.

    Who calls derives the standings of their lines.
    """
    backs = (
        Evidence(
            line_id=row.line_id, portion=row.portion, basis=row.basis, era=row.era, withdraws=row,
            counts_from=first_day_counted(row), note=why, recorded_by=by, recorded_at=at,
        )
        for row in rows
    )  # fmt: skip
    Evidence.objects.bulk_create(backs, batch_size=2000)
    for start in range(0, len(rows), MOST_AT_ONCE):
        some = [row.pk for row in rows[start : start + MOST_AT_ONCE]]
        Evidence.objects.filter(pk__in=some).update(content_key=None, fact_code=None)


def first_day_counted(evidence: Evidence) -> date:
    """Return the first day for which a row counts; of a replacement, the day of the work."""
    record = _record_of(evidence)
    works = _work_days([record])
    return min((*works, record.counts_on))


def _first_day_of(line_id: int) -> date:
    """The first day for which any evidence of a line counts."""
    rows = Evidence.objects.filter(line=line_id).values_list(*COLUMNS)
    records = [record_of(row) for row in rows]
    return min((*_work_days(records), *(record.counts_on for record in records)))


def _work_days(records: list[EvidenceRecord]) -> list[date]:
    works = works_of(records, date.max)
    return [work.observed_on for work in works if work.observed_on is not None]


def _refuse_before_the_record(evidence: Evidence) -> None:
    """Refuse a day since when evidence is true from before anything is on record."""
    sentence = evidence.counts_from and before_the_record(evidence.counts_from)
    if sentence:
        raise EvidenceRefused(sentence)
