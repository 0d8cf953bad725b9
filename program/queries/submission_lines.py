"""The line list as of a day, as known at a moment, in flat memory.

Walks the lines in chunks of ids; for each chunk it reads their evidence and their changes of
category, keeps what counted on the day, and weighs it by the same rule that gives a line its
standing. Lines with equal evidence are weighed once.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.utils.timezone import localdate, make_aware

from program.models import PoolLine
from program.queries.access import not_under_control
from program.queries.pools import day_by_day
from program.submissions.rows import LineRow
from services_inventory.domain.classification import (
    Category,
    LineFacts,
    Policy,
    Verdict,
    classify,
    facts_from_key,
)
from services_inventory.domain.evidence import (
    Basis,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    PortionStanding,
    Signature,
    stand,
)
from services_inventory.domain.evidence.reducing import reduce
from services_inventory.domain.regulation import Rules
from services_inventory.domain.validation import membership
from services_inventory.models import CategoryChange, Decision, Evidence, ServiceLine
from services_inventory.queries.evidence_rows import COLUMNS, record_of
from services_inventory.queries.past import PastDay

CHUNK = 4_000
REMEMBERED = 10_000  # kinds of evidence kept at a time, so that memory stays flat
_LINE = (
    "id", "location_id", "premise__address", "neighborhood__name", "premise__latitude",
    "premise__longitude", "use", "installed_year", "system_nominal_in", "customer_nominal_in",
)  # fmt: skip
_PORTION, _OBSERVED, _PLACE, _BASIS, _AT, _BATCH, _WITHDRAWS, _RESOLVES = (
    COLUMNS.index(name)
    for name in (
        "portion", "observed_on", "place", "basis", "recorded_at", "batch_id", "withdraws_id",
        "resolves",
    )
)  # fmt: skip
_SAID = slice(_PORTION, _RESOLVES + 1)


@dataclass(frozen=True)
class AsKnown:
    """What the line list is made by: the day, the moment, what evidence is weighed by."""

    as_of: date
    known_at: datetime
    evidence: EvidencePolicy
    classification: Policy
    pool_freeze_id: int | None = None


def known_on(
    as_of: date, known_at: datetime, rules: Rules, never_had_lead: bool, pool_freeze_id: int | None
) -> AsKnown:
    """Return what the line list of a day is made by, under the values of the rule given."""
    return AsKnown(
        as_of,
        known_at,
        EvidencePolicy.from_rules(as_of, rules, never_had_lead),
        Policy(
            never_had_lead=never_had_lead,
            connectors_make_grr=bool(rules.value("CONNECTORS_MAKE_GRR", as_of)),
        ),
        pool_freeze_id,
    )


class _Shown(NamedTuple):
    """What the record of one portion amounts to: its basis, day, points and place."""

    basis: str
    observed_on: date | None
    points: int | None
    place: str
    source: str


class _Weighed(NamedTuple):
    """What equal evidence amounts to: facts, verdict, best record by portion, in the pool."""

    facts: LineFacts
    verdict: Verdict
    best: dict[str, tuple[int, int]]  # portion -> (place of the deciding record, points)
    in_validation_pool: bool


class _Outcome(NamedTuple):
    """What equally reduced evidence amounts to."""

    facts: LineFacts
    verdict: Verdict
    portions: tuple
    in_validation_pool: bool


def line_rows(known: AsKnown) -> Iterator[LineRow]:
    """Yield every line of the inventory on the day, in the order it came to the record."""
    reader = _Reader(known)
    lines = ServiceLine.objects.order_by("id")
    last = 0
    while chunk := list(lines.filter(id__gt=last).values_list(*_LINE)[:CHUNK]):
        first, last = chunk[0][0], chunk[-1][0]
        within = {"line_id__gte": first, "line_id__lte": last}
        yield from (row for _, row in reader.rows(chunk, within))


def rows_of(ids: Sequence[int], *knowns: AsKnown) -> Iterator[tuple]:
    """Yield of some lines (id, row as known, row as known …); None where one did not count."""
    readers = [_Reader(known) for known in knowns]
    for start in range(0, len(ids), CHUNK):
        some = ids[start : start + CHUNK]
        lines = list(ServiceLine.objects.filter(id__in=some).order_by("id").values_list(*_LINE))
        found = [dict(reader.rows(lines, {"line_id__in": some})) for reader in readers]
        yield from ((line[0], *(rows.get(line[0]) for rows in found)) for line in lines)


class _Reader:
    """Turns chunks of lines into rows."""

    def __init__(self, known: AsKnown):
        self.known = known
        self.past = PastDay(known.as_of, known.known_at)
        self.last = day_after(known.as_of)
        self.refused = not_under_control(known.as_of, known.known_at)
        self.weighed: dict[tuple, _Weighed] = {}
        self.outcomes: dict[Signature, _Outcome] = {}
        self.decided: dict[int, tuple[LineFacts, Verdict]] = {}

    def rows(self, lines: list[tuple], within: dict) -> Iterator[tuple[int, LineRow]]:
        evidence = self._evidence(within)
        standing = self._standing(within)
        pool = self._pool(within)
        for line in lines:
            found = standing.get(line[0])
            if found is not None:
                of_line = evidence.get(line[0], ())
                yield line[0], self._row(line, *found, of_line, line[0] in pool)

    def _evidence(self, within: dict) -> dict[int, list[tuple]]:
        """Return {line id: [(record columns), source …]} of what counted on the day."""
        rows = (
            Evidence.objects.filter(recorded_at__lte=self.known.known_at, **within)
            .order_by("line_id", "id")
            .values_list("line_id", *COLUMNS, "source")
        )
        return {
            line_id: self._counting([row[1:] for row in of_line])
            for line_id, of_line in groupby(rows.iterator(CHUNK), itemgetter(0))
        }

    def _counting(self, rows: list[tuple]) -> list[tuple]:
        """Keep the rows of a line that counted on the day: mostly all, told by when it was."""
        rows = [row for row in rows if row[_BATCH] not in self.past.gone]
        if all(row[_AT] < self.last for row in rows):
            return rows
        counting = {record.id for record in self.past.records(row[:-1] for row in rows)}
        return [row for row in rows if row[0] in counting]

    def _standing(self, within: dict) -> dict[int, tuple[str, int, date]]:
        """Return {line id: (category, decision id, since)} of lines in the inventory that day."""
        rows = (
            CategoryChange.objects.filter(
                effective_on__lte=self.known.as_of, recorded_at__lte=self.known.known_at, **within
            )
            .order_by("line_id", "effective_on", "recorded_at", "id")
            .values_list("line_id", "effective_on", "to_category", "decision_id")
        )
        found = {}
        for line_id, of_line in groupby(rows.iterator(CHUNK), itemgetter(0)):
            changes = list(of_line)
            category = changes[-1][2]
            if category is not None:
                *_, (_, _, since) = day_by_day((day, to) for _, day, to, _ in changes)
                found[line_id] = (category, changes[-1][3], since)
        return found

    def _pool(self, within: dict) -> set[int]:
        if self.known.pool_freeze_id is None:
            return set()
        lines = PoolLine.objects.filter(freeze_id=self.known.pool_freeze_id, **within)
        return set(lines.values_list("line_id", flat=True))

    def _row(self, line, category, decision_id, since, evidence, in_pool) -> LineRow:
        pk, location_id, address, area, latitude, longitude, use, year, system_in, customer_in = (
            line
        )
        weighed = self._weigh(evidence)
        facts, verdict = weighed.facts, weighed.verdict
        if verdict.category != category:
            facts, verdict = self._decision(decision_id)
        system, customer, connector = (_shown(weighed, evidence, p) for p in Portion)
        return LineRow(
            location_id,
            address,
            area or "",
            latitude,
            longitude,
            category,
            verdict.reason,
            verdict.citation,
            since,
            facts.system.value,
            system.basis,
            system.observed_on,
            system.points,
            facts.customer.value,
            customer.basis,
            customer.observed_on,
            customer.points,
            {True: "YES", False: "NO", None: ""}[facts.system_was_lead],
            facts.connector.value,
            connector.basis,
            connector.place,
            "YES" if verdict.rests_on_connectors else "NO",
            use,
            year,
            customer_in or system_in,
            "NO" if pk in self.refused else "YES",
            "YES" if in_pool else "NO",
            "YES" if weighed.in_validation_pool and category == Category.NON_LEAD else "NO",
            "; ".join(dict.fromkeys(shown.source for shown in (system, customer) if shown.source)),
        )

    def _weigh(self, evidence: list[tuple]) -> _Weighed:
        key = tuple([(*row[_SAID], localdate(row[_AT])) for row in evidence])
        found = self.weighed.get(key)
        if found is None:
            found = self._weigh_anew(evidence)
            # Rows that speak of other rows depend on ids and moments, so they stay alone.
            if not any(row[_WITHDRAWS] or row[_RESOLVES] for row in evidence):
                if len(self.weighed) >= REMEMBERED:
                    self.weighed.clear()
                self.weighed[key] = found
        return found

    def _weigh_anew(self, evidence: list[tuple]) -> _Weighed:
        place = {row[0]: number for number, row in enumerate(evidence)}
        records = [
            record_of(
                (
                    number,
                    *row[1:_WITHDRAWS],
                    place.get(row[_WITHDRAWS]),
                    *row[_WITHDRAWS + 1 : -1],
                )
            )
            for number, row in enumerate(evidence)
            if row[_WITHDRAWS] is None or row[_WITHDRAWS] in place
        ]
        reduced = reduce(records, self.known.evidence)
        outcome = self.outcomes.get(reduced.signature)
        if outcome is None:
            outcome = self.outcomes[reduced.signature] = self._outcome(reduced.signature)
        best = {
            portion.value: (_most_telling(result.support, reduced.records), result.points)
            for portion, result in outcome.portions
            if result.support
        }
        return _Weighed(outcome.facts, outcome.verdict, best, outcome.in_validation_pool)

    def _outcome(self, signature: Signature) -> _Outcome:
        standing = stand(signature)
        verdict = classify(standing.facts, self.known.classification)
        portions = [
            PortionStanding(portion, result.material, (), "", result.pool_status, result.points)
            for portion, result in standing.portions
        ]
        in_pool = membership(verdict.category, portions).in_pool
        return _Outcome(standing.facts, verdict, standing.portions, in_pool)

    def _decision(self, decision_id: int) -> tuple[LineFacts, Verdict]:
        """The verdict as it was recorded, where other values of the rule were in force."""
        if decision_id not in self.decided:
            row = Decision.objects.get(pk=decision_id)
            verdict = Verdict(
                Category(row.category),
                row.reason,
                row.citation,
                rests_on_connectors=row.rests_on_connectors,
            )
            self.decided[decision_id] = (facts_from_key(row.facts_key), verdict)
        return self.decided[decision_id]


def _most_telling(support: tuple[int, ...], records: tuple[EvidenceRecord, ...]) -> int:
    def weight(record: EvidenceRecord) -> tuple:
        return record.basis.traits.strength, record.speaks_of, record.points_seen, record.id

    return max((records[number] for number in support), key=weight).id


def _shown(weighed: _Weighed, evidence: list[tuple], portion: Portion) -> _Shown:
    if portion.value not in weighed.best:
        return _NOT_SHOWN
    number, points = weighed.best[portion.value]
    row = evidence[number]
    return _Shown(_LABELS[row[_BASIS]], row[_OBSERVED], points or None, row[_PLACE], row[-1])


_NOT_SHOWN = _Shown("", None, None, "", "")
_LABELS = {basis.value: basis.label for basis in Basis}


def day_after(day: date) -> datetime:
    """The moment before which evidence was recorded on the day or earlier."""
    return make_aware(datetime.fromordinal(day.toordinal() + 1))
