"""Findings of more protective pipe that do not stand: set aside by decision, or taken back.

What somebody saw of lead or galvanized pipe, and why it no longer counts: each with who said so
and who agreed. A list of its own, so that none is lost among the lines.
"""

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Q
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told

from ..domain.evidence import Basis
from ..domain.materials import Material
from ..models import Evidence, Proposal
from .history import material_words

CHUNK = 2_000
SEEN = [basis.value for basis in Basis if basis.traits.inspection]
PROTECTIVE = [m.value for m in Material if m.is_lead or m.is_galvanized]
DECIDED, TAKEN_BACK, NEVER_TRUE = (
    "decided by two people", "taken back: no longer counts", "taken back: never true",
)  # fmt: skip
HEADINGS = (
    "location id", "address", "portion", "what was seen", "how it was set aside", "what stands",
    "by", "agreed by", "on", "document", "reason", "holds",
)  # fmt: skip


class SetAside(NamedTuple):
    """One finding, or the findings of one decision, that do not stand."""

    line_id: int
    location_id: str
    address: str
    portion: str
    seen: str
    how: str
    stands: str
    by: str
    agreed_by: str
    on: date
    document_id: int | None
    document: str
    reason: str
    holds: bool

    @property
    def cells(self) -> tuple:
        """The cells of a table, in the order of `HEADINGS`."""
        return (
            self.location_id, self.address, self.portion, self.seen, self.how, self.stands,
            self.by, self.agreed_by, self.on.isoformat(), self.document, self.reason,
            "yes" if self.holds else "no",
        )  # fmt: skip


def set_aside(as_of: date | None = None, known_at: datetime | None = None) -> Iterator[SetAside]:
    """Yield the findings that do not stand, decisions first, in the order of their recording.

    Parameters
    ----------
    as_of : what took effect later is left out
    known_at : and what was recorded later
    """
    yield from _decided(as_of, known_at)
    yield from _taken_back(as_of, known_at)


def set_aside_number() -> int:
    """Return how many there are."""
    return _decisions(None).count() + _withdrawals(None).count()


def _decisions(known_at: datetime | None):
    rows = Proposal.objects.filter(answer=Proposal.Answer.AGREED)
    if known_at is not None:
        rows = rows.filter(answered_at__lte=known_at)
    return rows.order_by("id")


def _decided(as_of: date | None, known_at: datetime | None) -> Iterator[SetAside]:
    rows = _decisions(known_at).select_related("conflict__line__premise", "document")
    for row in rows.iterator(CHUNK):
        on = localdate(row.answered_at)
        if as_of is not None and on > as_of:
            continue
        findings = Evidence.objects.filter(pk__in=row.set_aside_ids).order_by("id")
        line = row.conflict.line
        yield SetAside(
            line.pk, line.location_id, line.premise.address,
            row.conflict.get_portion_display(),
            "; ".join(finding_words(finding) for finding in findings),
            DECIDED, material_words(row.conflict.portion, row.material),
            row.proposed_by, row.answered_by, on, row.document_id, row.document.name, row.reason,
            not _withdrawn(row.decision_id, as_of, known_at),
        )  # fmt: skip


def _withdrawn(evidence_id: int, as_of: date | None, known_at: datetime | None) -> bool:
    rows = Evidence.objects.filter(withdraws=evidence_id)
    if known_at is not None:
        rows = rows.filter(recorded_at__lte=known_at)
    days = ((row.counts_from, row.recorded_at) for row in rows)
    return any(as_of is None or (since or localdate(at)) <= as_of for since, at in days)


def _withdrawals(known_at: datetime | None):
    rows = Evidence.objects.filter(
        withdraws__basis__in=SEEN, withdraws__material__in=PROTECTIVE, withdraws__era="NOW"
    )
    if known_at is not None:
        rows = rows.filter(recorded_at__lte=known_at)
    return rows.order_by("id")


def _taken_back(as_of: date | None, known_at: datetime | None) -> Iterator[SetAside]:
    rows = _withdrawals(known_at).select_related("withdraws", "line__premise")
    if as_of is not None:
        rows = rows.filter(Q(counts_from__lte=as_of) | Q(counts_from__isnull=True))
    for row in rows.iterator(CHUNK):
        on = localdate(row.recorded_at)
        if as_of is not None and row.counts_from is None and on > as_of:
            continue
        line = row.line
        yield SetAside(
            line.pk, line.location_id, line.premise.address, row.get_portion_display(),
            finding_words(row.withdraws), NEVER_TRUE if row.counts_from else TAKEN_BACK,
            "", row.recorded_by, "", on, None, "", row.note, not _recorded_again(row, known_at),
        )  # fmt: skip


def _recorded_again(row: Evidence, known_at: datetime | None) -> bool:
    """Whether the same finding was recorded once more after it was taken back."""
    finding = row.withdraws
    again = Evidence.objects.filter(
        line=row.line_id, portion=finding.portion, material=finding.material, basis=finding.basis,
        observed_on=finding.observed_on, id__gt=row.pk, withdrawn_by__isnull=True,
    )  # fmt: skip
    if known_at is not None:
        again = again.filter(recorded_at__lte=known_at)
    return again.exists()


def finding_words(row: Evidence) -> str:
    """Return what was seen, where, when and how, in one phrase."""
    said = [f"{material_words(row.portion, row.material)}, by {Basis(row.basis).label}"]
    if row.observed_on:
        said.append(f"seen on {day_told(row.observed_on)}")
    if row.place:
        said.append(f"at: {row.place}")
    if row.points_seen:
        said.append(f"{row.points_seen} point{'s' if row.points_seen > 1 else ''}")
    return ", ".join(said)
