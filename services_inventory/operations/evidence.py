"""Recording evidence, and taking it back by a new row. The standing follows at once."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.utils.timezone import localdate

from ..domain.evidence import contradictions
from ..facts import TELLING, Facts
from ..models import Batch, Evidence, ServiceLine
from ..policy import evidence_policy
from ..queries.evidence_rows import COLUMNS, record_of
from ..statements import Statement, content_key
from .standings import standings_derive


class EvidenceRefused(Exception):
    """The evidence contradicts itself; the message says how, and nothing was recorded."""


def evidence_record(
    *, line: ServiceLine, portion: str, basis: str, by: str, recorded_at: datetime, **said
) -> Evidence:
    """Record one piece of evidence about a line and derive the line's standing.

    Parameters
    ----------
    said : any of material, era, points_seen, place, observed_on, installed_on,
        installed_year, diameter_in (inches), length_ft, every_earlier_pipe, below_lead,
        source, note, document, batch, row_number, resolves

    Raises
    ------
    EvidenceRefused
        It cannot be true: seen before it was laid, dated after today, a year such as 20255.
    """
    evidence = Evidence(
        line=line, portion=portion, basis=basis, recorded_by=by, recorded_at=recorded_at, **said
    )
    _refuse_contradictions(evidence)
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
    more = ("length_ft", "place", "every_earlier_pipe", "below_lead", "resolves", "withdraws_id")
    if not evidence.material or any(getattr(evidence, name) for name in more):
        return None
    said = {name: getattr(evidence, name) for name in Statement._fields}
    return content_key(Statement(**said))


def _refuse_contradictions(evidence: Evidence) -> None:
    try:
        record = record_of([getattr(evidence, name) for name in COLUMNS])
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
    EvidenceRefused
        One row cannot be true; the message names its place in `rows`, counted from 1.
    """
    made = []
    for number, row in enumerate(rows, start=1):
        evidence = Evidence(recorded_by=by, recorded_at=recorded_at, batch=batch, **row)
        try:
            _refuse_contradictions(evidence)
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
    *, evidence: Evidence, by: str, recorded_at: datetime, reason: str
) -> Evidence:
    """Take a piece of evidence back by a new row that says why.

    Raises
    ------
    EvidenceRefused
        It was taken back already, or no reason is given.
    """
    if not reason.strip():
        raise EvidenceRefused("Say why this evidence is taken back.")
    with transaction.atomic():
        if Evidence.objects.filter(withdraws=evidence).exists():
            raise EvidenceRefused("This evidence was taken back already.")
        row = Evidence.objects.create(
            line_id=evidence.line_id,
            portion=evidence.portion,
            basis=evidence.basis,
            era=evidence.era,
            withdraws=evidence,
            note=reason.strip(),
            recorded_by=by,
            recorded_at=recorded_at,
        )
        standings_derive(line_ids=[evidence.line_id], recorded_at=recorded_at, by=by)
    return row
