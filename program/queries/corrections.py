"""The ledger of an amendment: line by line what was filed, what is known now, and by what.

Only lines of which something came to the record since are looked at, a chunk at a time; the day
is the same on both sides, the moment of knowing differs.
"""

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Q
from django.utils.timezone import localdate

from program.domain.counting import CountKind
from program.models import Submission
from program.queries.submission_lines import AsKnown, day_after, known_on, rows_of
from program.rules import rules_in_force
from program.submissions.rows import CorrectionRow, LineRow
from services_inventory.domain.days import day_told
from services_inventory.domain.evidence import Basis
from services_inventory.models import Batch, CategoryChange, Evidence
from services_inventory.queries.history import says
from services_inventory.queries.past import Withdrawal, withdrawals
from services_inventory.queries.set_aside import finding_words

CHUNK = 2_000
COMPARED = (
    "category", "system_material", "customer_material", "system_was_lead", "connector",
    "rests_on_connectors",
)  # fmt: skip
WORK_CODES = {
    "A8": CountKind.FULL_LEAD,
    "A9": CountKind.FULL_GRR,
    "A10": CountKind.PARTIAL_LEAD,
    "A11": CountKind.PARTIAL_GRR,
}
_CATEGORY_TOTALS = {"LEAD": "A1", "GRR": "A2", "UNKNOWN": "A3", "NON_LEAD": "A4"}
_CONNECTOR_TOTALS = {"LEAD": "A6", "UNKNOWN": "A7"}


class _News(NamedTuple):
    """One thing that came to the record: since when it counts, when it came, what it says."""

    counts_on: date
    recorded_on: date
    words: str


def amends_kept(submission: Submission) -> dict:
    """Return what an amendment keeps of the submission that it amends (plain JSON)."""
    return {
        "revision": submission.revision,
        "known_at": submission.known_at.isoformat(),
        "never_had_lead": submission.facts["never_had_lead"],
        "totals": submission.facts["totals"],
    }


def filed_as(as_of: date, amends: dict) -> AsKnown:
    """Return by what the line list was made that an amendment amends."""
    known_at = datetime.fromisoformat(amends["known_at"])
    return known_on(as_of, known_at, rules_in_force(known_at), amends["never_had_lead"], None)


def corrections(
    filed: AsKnown, now: AsKnown, ids: list[int] | None = None
) -> Iterator[CorrectionRow]:
    """Yield one row for each line that was filed otherwise than is known now; of some lines."""
    ids = touched(filed, now) if ids is None else ids
    for start in range(0, len(ids), CHUNK):
        some = ids[start : start + CHUNK]
        unlike = [(pk, old, new) for pk, old, new in rows_of(some, filed, now) if _differ(old, new)]
        news = _news([pk for pk, *_ in unlike], filed, now)
        for pk, old, new in unlike:
            yield _row(old, new, news.get(pk, []))


def touched(filed: AsKnown, now: AsKnown) -> list[int]:
    """The lines of which something that bears on the day was recorded in between."""
    between = {"recorded_at__gt": filed.known_at, "recorded_at__lte": now.known_at}
    changes = CategoryChange.objects.filter(effective_on__lte=now.as_of, **between)
    evidence = Evidence.objects.filter(_bears_on(now.as_of), **between)
    batches = Evidence.objects.filter(batch__in=[one.batch_id for one in _withdrawn(filed, now)])
    ids = set()
    for rows in (changes, evidence, batches):
        ids.update(rows.values_list("line_id", flat=True).iterator(CHUNK))
    return sorted(ids)


def _bears_on(day: date) -> Q:
    return (
        Q(recorded_at__lt=day_after(day))
        | Q(counts_from__lte=day)
        | Q(basis=Basis.REPLACEMENT, observed_on__lte=day)
    )


def _withdrawn(filed: AsKnown, now: AsKnown) -> list[Withdrawal]:
    return [
        one
        for one in withdrawals()
        if filed.known_at < one.at <= now.known_at and one.reaches(now.as_of)
    ]


def _differ(old: LineRow | None, new: LineRow | None) -> bool:
    return _compared(old) != _compared(new)


def _compared(row: LineRow | None) -> tuple:
    return tuple(getattr(row, name) for name in COMPARED) if row else ("",) * len(COMPARED)


def _row(old: LineRow | None, new: LineRow | None, news: list[_News]) -> CorrectionRow:
    shown = new or old
    was, is_now = _compared(old), _compared(new)
    moved = new is not None and was[0] != is_now[0]
    since = new.since if moved else min((one.counts_on for one in news), default=None)
    pairs = [cell for pair in zip(was, is_now, strict=True) for cell in pair]
    return CorrectionRow(
        shown.location_id,
        shown.address,
        *pairs[:2],
        since,
        max((one.recorded_on for one in news), default=None),
        " ".join(one.words for one in news) or _NO_EVIDENCE,
        totals_of(old, new),
        *pairs[2:],
        new.reason if new else "It is not in the inventory of that day.",
    )


_NO_EVIDENCE = (
    "No evidence came to the record since; the standing was derived anew, by values of the rule "
    "that were recorded since."
)


def totals_of(old: LineRow | None, new: LineRow | None) -> str:
    """Return which totals one line moves, such as 'A1 +1; A4 -1'."""
    moved: dict[str, int] = {}
    for row, sign in ((old, -1), (new, 1)):
        for code in _codes(row) if row else ():
            moved[code] = moved.get(code, 0) + sign
    order = sorted(moved, key=lambda code: int(code[1:]))
    return "; ".join(f"{code} {moved[code]:+d}" for code in order if moved[code])


def _codes(row: LineRow) -> Iterator[str]:
    yield _CATEGORY_TOTALS[row.category]
    yield "A5"
    if row.connector in _CONNECTOR_TOTALS:
        yield _CONNECTOR_TOTALS[row.connector]
    if row.rests_on_connectors == "YES":
        yield "A12"


def _news(ids: list[int], filed: AsKnown, now: AsKnown) -> dict[int, list[_News]]:
    """Return {line id: what came to the record about it and bears on the day}."""
    found: dict[int, list[_News]] = {}
    rows = Evidence.objects.filter(
        _bears_on(now.as_of), line_id__in=ids, recorded_at__gt=filed.known_at,
        recorded_at__lte=now.known_at,
    ).select_related("document", "withdraws")  # fmt: skip
    for row in rows.order_by("line_id", "id").iterator(CHUNK):
        found.setdefault(row.line_id, []).append(_told(row))
    for one in _withdrawn(filed, now):
        batch = Batch.objects.get(pk=one.batch_id)
        said = _News(
            localdate(batch.created_at), localdate(one.at),
            f"File {batch.file_name or batch.pk} (batch {batch.pk}) was withdrawn "
            f"{'as never true' if one.never_true else 'and counts no longer'} on "
            f"{day_told(localdate(one.at))}.",
        )  # fmt: skip
        lines = Evidence.objects.filter(batch=batch, line_id__in=ids)
        for line_id in lines.order_by("line_id").values_list("line_id", flat=True).distinct():
            found.setdefault(line_id, []).append(said)
    return found


def _told(row: Evidence) -> _News:
    recorded = localdate(row.recorded_at)
    by = f"recorded {recorded} by {row.recorded_by}"
    portion = row.get_portion_display().capitalize()
    if row.withdraws_id:
        how = "taken back as never true" if row.counts_from else "taken back"
        said = f"{portion}: {finding_words(row.withdraws)}: {how}, {by}: {row.note}"
    elif row.resolves:
        said = f"{portion}: {says(row)}, {by}: {row.note}"
    else:
        said = f"{portion}: {finding_words(row)}, {by}"
    if row.counts_from and not row.withdraws_id:
        said += f", true since {row.counts_from}"
    said += "".join(
        f"; {name}" for name in (row.source, row.document and row.document.name) if name
    )
    day = row.counts_from or (row.basis == Basis.REPLACEMENT and row.observed_on) or recorded
    return _News(day, recorded, f"{said.rstrip('.')}.")


def counting_later(filed: AsKnown, now: AsKnown) -> tuple[int, int]:
    """Return how many rows of evidence came since, and how many of them count only later days."""
    rows = Evidence.objects.filter(recorded_at__gt=filed.known_at, recorded_at__lte=now.known_at)
    number = rows.count()
    return number, number - rows.filter(_bears_on(now.as_of)).count()
