"""A line as it stood at the end of a past day, weighed anew from its evidence.

Evidence counts from the day it is recorded, or since when it says; what is on record once a
replacement is recorded, from the day of the work; what was taken back counts until that day, and
for no day where it was never true. The category changes on record were made by this, so weighing
the past again must give the same.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.db.models import Max, Q
from django.utils.timezone import localdate

from .. import bulk
from ..domain.classification import Category
from ..domain.evidence import EvidenceRecord
from ..domain.evidence.past import any_stands, counting_on
from ..models import Batch, Evidence, ServiceLine
from .counts import categories_on
from .evidence_rows import COLUMNS, record_of
from .history import portions_of
from .weigher import Weigher

_BATCH = COLUMNS.index("batch_id")


class PastDay:
    """What counted at the end of a day, as was known at a moment."""

    def __init__(self, day: date, known_at: datetime | None = None):
        self.day, self.known_at = day, known_at
        self.gone = frozenset(
            one.batch_id
            for one in withdrawals()
            if one.reaches(day) and (known_at is None or one.at <= known_at)
        )

    def records(self, rows: Iterable[tuple]) -> list[EvidenceRecord]:
        """Return the records that counted, of a line's evidence rows."""
        records = [record_of(row) for row in rows if row[_BATCH] not in self.gone]
        if self.known_at is not None:
            records = [one for one in records if one.recorded_at <= self.known_at]
        return counting_on(records, self.day)


class Withdrawal(NamedTuple):
    """A batch that was taken back: from which moment, and whether it was never true."""

    batch_id: int
    at: datetime
    never_true: bool

    def reaches(self, day: date) -> bool:
        """Whether the batch no longer counts at the end of a day, by what is known now."""
        return self.never_true or localdate(self.at) <= day


def withdrawals() -> list[Withdrawal]:
    """Return every withdrawal of a batch; one first taken back, then never true, has two."""
    rows = Batch.objects.filter(Q(withdraws__isnull=False) | Q(result__reaches_back=True))
    return [
        Withdrawal(
            pk or said["withdraws"],
            datetime.fromisoformat(said["recorded_at"]) if "recorded_at" in said else created,
            bool(said.get("never_true")),
        )
        for pk, said, created in rows.values_list("withdraws_id", "parameters", "created_at")
    ]


def past_standing(line: ServiceLine, day: date, known_at: datetime | None = None) -> dict:
    """Return portions, reasons, sub-label and classification of a line at the end of a past day."""
    rows = Evidence.objects.filter(line=line).order_by("id").values_list(*COLUMNS)
    weighed, judged = Weigher.on(day).weigh(PastDay(day, known_at).records(rows))
    classification = judged.classification
    open_still = classification.category in (Category.UNKNOWN, Category.GRR)
    return {
        "classification": classification,
        "label": weighed.unknown_label.label,
        "portions": portions_of(weighed),
        "would_settle": classification.would_settle if open_still else (),
        "sentences": [found.reason for found in (*weighed.conflicts, *weighed.reviews)],
        "pool": judged.membership,
    }


def recount(day: date, known_at: datetime | None = None, examples: int = 20, report=None) -> dict:
    """Compare every line's category at the end of a past day with a recount from the evidence.

    Returns
    -------
    dict
        `lines` compared, number of `differences`, up to `examples` of them as (line id,
        category on record, category recounted), and the recounted `counts`.
    """
    on_record = dict(categories_on(day, known_at).iterator(5_000))
    counts, unlike, lines = dict.fromkeys(Category, 0), [], len(on_record)
    differences = 0
    for number, (line_id, category) in enumerate(_recounted(day, known_at, on_record), start=1):
        said = on_record.get(line_id)
        lines += said is None
        counts[category] += 1
        if said != category:
            differences += 1
            unlike += [(line_id, said, category.value)] if len(unlike) < examples else []
        if report and not number % bulk.CHUNK:
            report(number, lines)
    return {
        "lines": lines,
        "differences": differences,
        "examples": unlike,
        "counts": {category.value: number for category, number in counts.items()},
    }


def _recounted(
    day: date, known_at: datetime | None, on_record: dict[int, str]
) -> Iterator[tuple[int, Category]]:
    """Yield (line id, category by the evidence); a line on record without any counts as unknown."""
    past, weigher = PastDay(day, known_at), Weigher.on(day)
    seen, none_after_all = set(), _given_up(known_at)
    for line_id, rows in groupby(_all_rows(), itemgetter(0)):
        if line_id in none_after_all:
            continue
        records = past.records(row[1:] for row in rows)
        if any_stands(records):
            seen.add(line_id)
            yield line_id, weigher.category(records)
    bare = weigher.category([])
    yield from ((line_id, bare) for line_id in on_record if line_id not in seen)


def _given_up(known_at: datetime | None) -> set[int]:
    """Lines that turned out to be none, by what was known then: they count for no day."""
    gone = ServiceLine.objects.filter(given_up=True)
    if known_at is not None:
        left = Q(category_changes__to_category=None)
        gone = gone.annotate(at=Max("category_changes__recorded_at", filter=left))
        gone = gone.filter(at__lte=known_at)
    return set(gone.values_list("pk", flat=True))


def _all_rows() -> Iterator[tuple]:
    columns = ", ".join(COLUMNS)
    return bulk.stream(
        f"SELECT line_id, {columns} FROM services_inventory_evidence ORDER BY line_id, id"
    )
