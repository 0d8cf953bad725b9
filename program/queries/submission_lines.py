"""The line list as of a day, as known at a moment, in flat memory.

Walks the lines in chunks of ids; for each chunk it reads their evidence and their changes of
category, keeps what counted on the day, and weighs it by the same rule that gives a line its
standing.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import groupby
from operator import attrgetter, itemgetter
from typing import NamedTuple

from django.db.models import TextField
from django.db.models.functions import Cast
from django.utils.timezone import make_aware

from program.models import PoolLine
from program.queries.access import not_under_control
from program.submissions.rows import LineRow
from program.submissions.tables import LINES, Column
from services_inventory import bulk
from services_inventory.domain.classification import (
    Category,
    Classification,
    LineFacts,
    Policy,
    facts_from_key,
)
from services_inventory.domain.evidence import Basis, EvidencePolicy, Portion
from services_inventory.domain.over_time import day_by_day
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange, Decision, Evidence, ServiceLine
from services_inventory.queries.evidence_rows import COLUMNS, day_of
from services_inventory.queries.past import PastDay
from services_inventory.queries.weigher import Read, Weigher

CHUNK = 4_000
_OBSERVED, _PLACE, _BASIS, _AT, _BATCH = (
    COLUMNS.index(name)
    for name in (
        "observed_on", "place", "basis", "recorded_at", "batch_id",
    )
)  # fmt: skip


@dataclass(frozen=True)
class AsKnown:
    """What the line list is made by: the day, the moment, what weighs evidence."""

    as_of: date
    known_at: datetime
    weigher: Weigher
    pool_freeze_id: int | None = None


def known_on(
    as_of: date, known_at: datetime, rules: Rules, never_had_lead: bool, pool_freeze_id: int | None
) -> AsKnown:
    """Return what the line list of a day is made by, under the values of the rule given."""
    return AsKnown(
        as_of,
        known_at,
        Weigher(
            EvidencePolicy.from_rules(as_of, rules, never_had_lead),
            Policy(
                never_had_lead=never_had_lead,
                connectors_make_grr=bool(rules.value("CONNECTORS_MAKE_GRR", as_of)),
            ),
            rules,
        ),
        pool_freeze_id,
    )


class Shown(NamedTuple):
    """What the record of one portion amounts to: its basis, day, points and place."""

    basis: str = ""
    observed_on: date | None = None
    points_seen: int | None = None
    place: str = ""
    source: str = ""


class ReadLine(NamedTuple):
    """A line on the day, as the columns of the list take from it."""

    record: tuple  # the values of `_RECORD`
    category: str
    since: date
    facts: LineFacts
    classification: Classification
    system: Shown
    customer: Shown
    connector: Shown
    under_control: bool
    in_replacement_pool: bool
    in_validation_pool: bool

    @property
    def document(self) -> str:
        """References of the evidence of both sides, each once."""
        return "; ".join(dict.fromkeys(filter(None, (self.system.source, self.customer.source))))


def _getter(column: Column) -> Callable[[ReadLine], object]:
    """Return what takes a column's value from a line."""
    if column.codes == "yes_no":
        read = attrgetter(column.weighed)
        return lambda line: {True: "YES", False: "NO", None: ""}[read(line)]
    if column.weighed:
        return attrgetter(column.weighed)
    first, *others = (_RECORD.index(path) for path in column.record.split())
    empty = "" if column.kind == "text" else None

    def recorded(line: ReadLine):
        found = line.record[first]
        for at in others:
            found = found or line.record[at]
        return empty if found is None else found

    return recorded


_RECORD = ("id", *dict.fromkeys(" ".join(column.record for column in LINES.columns).split()))
_GETTERS = tuple(map(_getter, LINES.columns))


def line_rows(known: AsKnown, after: int = 0, to: int | None = None) -> Iterator[LineRow]:
    """Yield every line of the inventory on the day, in the order it came to the record.

    after, to : only lines whose id lies behind the first and up to the second
    """
    reader = _Reader(known)
    lines = ServiceLine.objects.order_by("id")
    if to is not None:
        lines = lines.filter(id__lte=to)
    last = after
    while chunk := list(lines.filter(id__gt=last).values_list(*_RECORD)[:CHUNK]):
        first, last = chunk[0][0], chunk[-1][0]
        within = {"line_id__gte": first, "line_id__lte": last}
        yield from (row for _, row in reader.rows(chunk, within))


def rows_of(ids: Sequence[int], *knowns: AsKnown) -> Iterator[tuple]:
    """Yield of some lines (id, row as known, row as known …); None where one did not count."""
    readers = [_Reader(known) for known in knowns]
    for start in range(0, len(ids), CHUNK):
        some = ids[start : start + CHUNK]
        lines = list(ServiceLine.objects.filter(id__in=some).order_by("id").values_list(*_RECORD))
        found = [dict(reader.rows(lines, {"line_id__in": some})) for reader in readers]
        yield from ((line[0], *(rows.get(line[0]) for rows in found)) for line in lines)


class _Reader:
    """Turns chunks of lines into rows."""

    def __init__(self, known: AsKnown):
        self.known = known
        self.past = PastDay(known.as_of, known.known_at)
        # As text that both engines write alike, so that it is compared with as it is read.
        self.last = f"{day_after(known.as_of).astimezone(UTC):%Y-%m-%d %H:%M:%S}"
        self.refused = not_under_control(known.as_of, known.known_at)
        self.decided: dict[int, tuple[LineFacts, Classification]] = {}

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
            .values_list("line_id", *_AS_READ, "source")
        )
        # As the driver gives them: what weighs them reads its days and moments.
        given = bulk.stream(*rows.query.sql_with_params())
        return {
            line_id: self._counting([row[1:] for row in of_line])
            for line_id, of_line in groupby(given, itemgetter(0))
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
        found = self.known.weigher.read([row[:-1] for row in evidence])
        facts, classification = found.judged.standing.facts, found.judged.classification
        in_validation = found.judged.membership.in_pool and category == Category.NON_LEAD
        if classification.category != category:
            facts, classification = self._decision(decision_id)
        read = ReadLine(
            line,
            category,
            since,
            facts,
            classification,
            *(_shown(found, evidence, portion) for portion in Portion),
            under_control=line[0] not in self.refused,
            in_replacement_pool=in_pool,
            in_validation_pool=in_validation,
        )
        return LineRow._make([get(read) for get in _GETTERS])

    def _decision(self, decision_id: int) -> tuple[LineFacts, Classification]:
        """The classification as it was recorded, where other values of the rule were in force."""
        if decision_id not in self.decided:
            row = Decision.objects.get(pk=decision_id)
            classification = Classification(
                Category(row.category),
                row.reason,
                row.citation,
                rests_on_connectors=row.rests_on_connectors,
            )
            self.decided[decision_id] = (facts_from_key(row.facts_key), classification)
        return self.decided[decision_id]


def _shown(found: Read, evidence: list[tuple], portion: Portion) -> Shown:
    at, points = found.telling[portion]
    if at is None:
        return Shown()
    row = evidence[at]
    return Shown(_LABELS[row[_BASIS]], day_of(row[_OBSERVED]), points, row[_PLACE], row[-1])


# Days and moments as text: few of a long history are ever looked at as what they are.
_AS_READ = [
    Cast(name, TextField()) if name in ("observed_on", "recorded_at") else name for name in COLUMNS
]
_LABELS = {basis.value: basis.label for basis in Basis}


def day_after(day: date) -> datetime:
    """The moment before which evidence was recorded on the day or earlier."""
    return make_aware(datetime.fromordinal(day.toordinal() + 1))
