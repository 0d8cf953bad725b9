"""What is known now of past days: written where evidence speaks of days before it was recorded.

A replacement counts from the day of the work, evidence from the day since when it is true, and
what was never true for no day. For each line the standing of every day on which it can have
changed is weighed anew, and a change is written where the record says another category; so the
last change by (effective on, recorded at, id) is always what is now known of a day, and what was
recorded before stays as it was.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.utils.timezone import localdate

from .. import bulk
from ..domain.evidence import EvidenceRecord
from ..domain.evidence.past import any_stands, counting_on, works_of
from ..queries.evidence_rows import COLUMNS, day_of, record_of
from ..queries.past import Withdrawal, withdrawals
from ..queries.weigher import Outcome
from .weighing import OUT_OF_INVENTORY, NumberingWeigher

CHUNK = 20_000
LINE, EVIDENCE = "services_inventory_serviceline", "services_inventory_evidence"
CHANGE = "services_inventory_categorychange"
_BATCH = COLUMNS.index("batch_id")
_FRESH = (
    "line_id", "from_category", "to_category", "decision_id", "effective_on", "recorded_at",
    "recorded_by", "batch_id",
)  # fmt: skip


class Change(NamedTuple):
    """A day from which a line has another category on record."""

    day: date
    category: str | None
    decision_id: int | None = None
    before: str | None = None


def past_write(*, recorded_at: datetime, by: str, batch_id: int | None) -> None:
    """Write what is now known of the past days of the staged lines that have an early day."""
    lines = list(
        bulk.stream(
            "SELECT s.line_id, s.early_on, l.batch_id, l.given_up FROM standing_stage s "
            f"CROSS JOIN {LINE} l WHERE l.id = s.line_id AND s.early_on IS NOT NULL "
            "ORDER BY s.line_id"
        )
    )
    if not lines:
        return
    past = _Past(localdate(recorded_at))
    said = bulk.moment(recorded_at), by, batch_id
    for some in _chunks(lines):
        bulk.stage("past_lines", [("id", "KEY")], ((pk,) for pk, *_ in some))
        bulk.index("past_lines")
        found = list(_rewritten(some, past))
        rows = (
            (pk, one.before, one.category, one.decision_id, one.day, *said)
            for pk, fresh, _ in found
            for one in fresh
        )
        bulk.fill(CHANGE, _FRESH, rows)
        _write_since((pk, since) for pk, _, since in found)
        bulk.drop("past_lines")


def _chunks(lines: list[tuple]) -> Iterator[list[tuple]]:
    return (lines[at : at + CHUNK] for at in range(0, len(lines), CHUNK))


def _rewritten(lines: list[tuple], past: "_Past") -> Iterator[tuple[int, list[Change], date]]:
    """Yield (line id, the changes that its record lacks, since when it is what it is now)."""
    evidence = _by_line("e", EVIDENCE, COLUMNS, "e.id")
    order = "e.effective_on, e.recorded_at, e.id"
    changes = _by_line("e", CHANGE, ("effective_on", "to_category", "recorded_at"), order)
    for pk, first, batch_id, given_up in lines:
        rows = changes.get(pk, [])
        on_record = [Change(day_of(day), to) for day, to, _ in rows]
        _, came_on = min(((at, day_of(day)) for day, _, at in rows), default=(None, past.today))
        first, rows = day_of(first), evidence.get(pk, [])
        if given_up:
            fresh = list(_never_there(on_record, first))
        else:
            fresh = list(past.lacking(rows, on_record, first, came_on, batch_id))
        yield pk, fresh, _since([*on_record, *fresh], past.today)


def _by_line(name: str, table: str, columns, order: str) -> dict[int, list[tuple]]:
    columns = ", ".join(f"{name}.{column}" for column in columns)
    rows = bulk.stream(
        f"SELECT {name}.line_id, {columns} FROM past_lines p CROSS JOIN {table} {name} "
        f"WHERE {name}.line_id = p.id ORDER BY {name}.line_id, {order}"
    )
    return {pk: [row[1:] for row in group] for pk, group in groupby(rows, itemgetter(0))}


def _since(changes: list[Change], today: date) -> date:
    """The first day of the category that the last change gives; the later of a day holds."""
    since, current = today, None
    for day, of_day in groupby(sorted(changes, key=itemgetter(0)), itemgetter(0)):
        *_, last = of_day
        if last.category != current:
            since, current = day, last.category
    return since


def _write_since(rows: Iterable[tuple[int, date]]) -> None:
    bulk.stage("past_since", [("id", "KEY"), ("since", "DATE")], rows)
    bulk.execute(
        f"UPDATE {LINE} AS l SET category_since = s.since FROM past_since s "
        "WHERE s.id = l.id AND l.category_since IS DISTINCT FROM s.since"
    )
    bulk.drop("past_since")


def _on_record(changes: list[Change], first: date) -> tuple[dict[date, str | None], str | None]:
    """What the record says of each day with a change, and of the days just before the first."""
    said = {change.day: change.category for change in changes}  # the last of a day holds
    return said, next((c.category for c in reversed(changes) if c.day < first), None)


def _never_there(changes: list[Change], first: date) -> Iterator[Change]:
    """Yield what takes a line that turned out to be none out of every day from the first on."""
    said, current = _on_record(changes, first)
    for day in sorted({first, *(day for day in said if day > first)}):
        current = said.get(day, current)
        if current is not None:
            yield Change(day, None, None, current)
            current = None


class _Past:
    """Weighs lines on past days, each by the rule of its day."""

    def __init__(self, today: date):
        self.today = today
        self.gone: list[Withdrawal] = withdrawals()
        self._weighers: dict[date, NumberingWeigher] = {}
        self._by_rule: dict[tuple, NumberingWeigher] = {}

    def lacking(
        self, rows: list[tuple], on_record: list[Change], first: date, came_on: date, batch_id
    ) -> Iterator[Change]:
        """Yield the changes that the record of a line lacks to say what is now known of it.

        came_on : since when the line was there by what first told of it; on days before, it is
            there by evidence only
        """
        records = [record_of(row) for row in rows]
        said, current = _on_record(on_record, first)
        for day in self._days(rows, records, said, first, batch_id):
            current = said.get(day, current)
            there = current is not None and day >= came_on
            outcome = self._outcome(rows, records, day, batch_id, there)
            category, decision_id = self._decision(day, outcome)
            if category != current:
                yield Change(day, category, decision_id, current)
                current = category

    def _days(self, rows, records: list[EvidenceRecord], said, first: date, batch_id) -> list[date]:
        """The days on which the standing of a line can have changed, from the first on."""
        batches = {row[_BATCH] for row in rows} | {batch_id}
        days = {first, self.today, *said, *(record.counts_on for record in records)}
        days |= {work.observed_on for work in works_of(records, self.today)}
        days |= {localdate(one.at) for one in self.gone if one.batch_id in batches}
        return sorted(day for day in days if first <= day <= self.today)

    def _outcome(
        self, rows: list[tuple], records: list[EvidenceRecord], day: date, batch_id, there: bool
    ) -> Outcome:
        """What a line's evidence comes to on a day; without any it may be there all the same."""
        gone = {one.batch_id for one in self.gone if one.reaches(day)}
        kept = [one for one, row in zip(records, rows, strict=True) if row[_BATCH] not in gone]
        counting = counting_on(kept, day)
        if not any_stands(counting) and (not there or batch_id in gone):
            return OUT_OF_INVENTORY
        ids = {record.id for record in counting}
        return self._weigher(day).read([row for row in rows if row[0] in ids]).judged.outcome

    def _decision(self, day: date, outcome: Outcome) -> tuple[str | None, int | None]:
        if outcome.facts_key is None:
            return None, None
        row = self._weigher(day).decision(outcome.facts_key)
        return row.category, row.pk

    def _weigher(self, day: date) -> NumberingWeigher:
        if day not in self._weighers:
            fresh = NumberingWeigher.on(day)
            rule = fresh.policy, fresh.classification_policy
            self._weighers[day] = self._by_rule.setdefault(rule, fresh)
        return self._weighers[day]
