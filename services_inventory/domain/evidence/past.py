"""Which rows of evidence count at the end of a past day."""

from collections.abc import Iterable
from datetime import date

from services_inventory.domain.evidence.bases import Basis
from services_inventory.domain.evidence.records import EvidenceRecord


def counting_on(records: Iterable[EvidenceRecord], day: date) -> list[EvidenceRecord]:
    """The rows of a line that count at the end of a day; those that are not known are left out.

    A row counts from the day it was recorded, or from the earlier day that it says: true since
    then, or never true what it takes back. All that is on record once a replacement is recorded
    counts from the day of the work.
    """
    records = list(records)
    started = [record for record in records if record.counts_on <= day]
    gone = {record.withdraws for record in started if record.withdraws is not None}
    works = works_of(records, day)
    told = max((work.recorded_at for work in works if work.id not in gone), default=None)
    if told is None:
        return started
    return [one for one in records if one.counts_on <= day or one.recorded_at <= told]


def any_stands(counting: Iterable[EvidenceRecord]) -> bool:
    """Whether one of the rows that count is neither taken back nor what takes back."""
    counting = list(counting)
    gone = {record.withdraws for record in counting}
    return any(record.withdraws is None and record.id not in gone for record in counting)


def works_of(records: Iterable[EvidenceRecord], day: date) -> list[EvidenceRecord]:
    """The rows that tell of a replacement done by the end of a day."""
    return [
        one
        for one in records
        if one.basis == Basis.REPLACEMENT and one.observed_on and one.observed_on <= day
    ]
