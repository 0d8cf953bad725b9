"""Reading the evidence of lines and weighing it: alike evidence once, whatever number has it."""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from functools import cache
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.utils.timezone import localdate

from .. import bulk
from ..domain.classification import (
    LineFacts,
    Policy,
    Verdict,
    classify,
    decision_table,
    facts_from_key,
    facts_key,
)
from ..domain.evidence import (
    Basis,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    Weighed,
    facts_by_portion,
    signature,
    weigh,
)
from ..domain.validation import membership
from ..models import Batch, Decision
from ..policy import classification_policy, evidence_policy, rules_in_force
from ..queries.evidence_rows import COLUMNS, day_of, moment_of, record_of
from ..statements import Alike

_AT = {name: number for number, name in enumerate(COLUMNS, start=2)}
_TELLING = (
    "portion", "era", "material", "basis", "points_seen", "installed_on", "installed_year",
    "diameter_in", "length_ft", "every_earlier_pipe", "below_lead",
)  # fmt: skip
_ID, _PORTION, _PLACE = _AT["id"], _AT["portion"], _AT["place"]
_WITHDRAWS, _RESOLVES = _AT["withdraws_id"], _AT["resolves"]
_BASIS, _COUNTS_FROM = _AT["basis"], _AT["counts_from"]
_PORTIONS = tuple(portion.value for portion in Portion)
_KEY = slice(_AT["portion"], _AT["below_lead"] + 1)


class Outcome(NamedTuple):
    """What the evidence of a line amounts to, as it is stored."""

    facts_key: str | None
    validation: str
    in_conflict: bool


OUTCOME_COLUMNS = (
    ("outcome", "KEY"), ("decision_id", "INTEGER"), ("category", "TEXT"),
    ("system_material", "TEXT"), ("customer_material", "TEXT"), ("connector", "TEXT"),
    ("system_was_lead", "BOOLEAN"), ("system_below_lead", "BOOLEAN"), ("validation", "TEXT"),
    ("in_conflict", "BOOLEAN"),
)  # fmt: skip
MANY_KEYS = 500  # from which all rows of a policy are read
OUT_OF_INVENTORY = Outcome(None, "", False)


@cache
def policy_key(policy: Policy) -> str:
    """Return a short name for the decision table of a policy, new when any reason changes."""
    text = repr([(facts_key(facts), verdict) for facts, verdict in decision_table(policy)])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def decisions_of(policy: Policy, keys: Iterable[str]) -> dict[str, Decision]:
    """Return the rows of this policy's decision table for some keys of facts.

    The table is finite, and with what a decision set aside so large that hardly any of it is ever
    met: a row is written when it is first needed.
    """
    key, wanted = policy_key(policy), sorted(keys)
    found = _decisions_kept(key, wanted)
    new = [facts_from_key(one) for one in wanted if one not in found]
    if new:
        rows = [_decision(key, facts, classify(facts, policy)) for facts in new]
        Decision.objects.bulk_create(rows, ignore_conflicts=True)  # another may be as far
        found |= _decisions_kept(key, [row.facts_key for row in rows])
    return found


def _decisions_kept(key: str, wanted: list[str]) -> dict[str, Decision]:
    rows = Decision.objects.filter(policy_key=key).only("id", "facts_key", "category")
    if len(wanted) < MANY_KEYS:
        rows = rows.filter(facts_key__in=wanted)
    return {row.facts_key: row for row in rows}


def _decision(key: str, facts: LineFacts, verdict: Verdict) -> Decision:
    return Decision(
        policy_key=key,
        facts_key=facts_key(facts),
        category=verdict.category,
        reason=verdict.reason,
        citation=verdict.citation,
        would_settle=list(verdict.would_settle),
        rests_on_connectors=verdict.rests_on_connectors,
    )


def evidence_rows(line_ids: Iterable[int] | None) -> Iterator[tuple]:
    """Yield (line id, line's batch id, evidence columns …), by line; live batches only."""
    gone = withdrawn_batches()
    columns = ", ".join(f"e.{name}" for name in COLUMNS)
    alive = f" AND (e.batch_id IS NULL OR e.batch_id NOT IN ({listed(gone)}))" if gone else ""
    of_gone = f" OR l.batch_id IN ({listed(gone)})" if gone else ""
    born_of_gone = f"CASE WHEN l.given_up THEN 2 WHEN FALSE{of_gone} THEN 1 ELSE 0 END"
    some = ""
    if line_ids is not None:
        bulk.stage("standing_lines", [("id", "INTEGER")], ((pk,) for pk in set(line_ids)))
        some = " JOIN standing_lines s ON s.id = l.id"
    return bulk.stream(
        f"SELECT l.id, {born_of_gone}, {columns} FROM services_inventory_serviceline l{some} "
        f"LEFT JOIN services_inventory_evidence e ON e.line_id = l.id{alive} ORDER BY l.id"
    )


def withdrawn_batches() -> list[int]:
    """Ids of the batches that were withdrawn."""
    rows = Batch.objects.filter(withdraws__isnull=False)
    return list(rows.values_list("withdraws_id", flat=True))


def listed(ids: Sequence[int]) -> str:
    return ", ".join(str(int(pk)) for pk in ids)


class Weigher:
    """Weighs evidence under the rule of a day, and numbers the outcomes it meets."""

    def __init__(self, day: date):
        self.rules = rules_in_force()
        self.policy: EvidencePolicy = evidence_policy(day)
        self.classification: Policy = classification_policy(day)
        self.outcomes: dict[Outcome, int] = {}
        self._decisions: dict[str, Decision] = {}
        self._parts: list[Weighed] = []
        self._numbers: dict[tuple, int] = {}
        self._combined: dict[tuple[int, ...], int] = {}

    def weigh(self, records: Iterable[EvidenceRecord]) -> tuple[int, Weighed]:
        """Return the number of the outcome, and the weighing behind it."""
        weighed = weigh(records, self.policy)
        return self.number(self._judged(weighed)), weighed

    def outcome(self, records: Iterable[EvidenceRecord]) -> Outcome:
        """Return what the evidence of a line comes to."""
        return self._judged(weigh(records, self.policy))

    def part(self, portion: Portion, weighed: Weighed) -> int:
        """Return one number for all weighings of a portion that come to the same in a line."""
        own = weighed.portion(portion)
        means = (portion, weighed.facts, own.material, own.validation, own.points)
        key = (*means, bool(weighed.conflicts))
        if key not in self._numbers:
            self._numbers[key] = len(self._parts)
            self._parts.append(weighed)
        return self._numbers[key]

    def combine(self, parts: tuple[int, ...]) -> int:
        """Return the number of the outcome of a line, given the part of each of its portions."""
        if parts not in self._combined:
            weighed = dict(zip(Portion, (self._parts[part] for part in parts), strict=True))
            portions = [found.portion(portion) for portion, found in weighed.items()]
            conflict = any(found.conflicts for found in weighed.values())
            facts = facts_by_portion(weighed)
            self._combined[parts] = self.number(self._outcome(facts, portions, conflict))
        return self._combined[parts]

    def _judged(self, weighed: Weighed) -> Outcome:
        return self._outcome(weighed.facts, weighed.portions, bool(weighed.conflicts))

    def _outcome(self, facts: LineFacts, portions, conflict: bool) -> Outcome:
        verdict = classify(facts, self.classification)
        member = membership(verdict.category, portions, self.rules)
        return Outcome(facts_key(facts), member.status or "", conflict)

    def number(self, outcome: Outcome) -> int:
        """Return the number of an outcome, a fresh one for a new outcome."""
        return self.outcomes.setdefault(outcome, len(self.outcomes))

    def stage(self) -> None:
        """Stage the outcomes met so far, with their decisions, as `standing_outcome`."""
        bulk.stage("standing_outcome", OUTCOME_COLUMNS, self.rows())

    def rows(self) -> Iterator[tuple]:
        """Yield the outcomes met so far in the order of `OUTCOME_COLUMNS`."""
        self._ask({outcome.facts_key for outcome in self.outcomes if outcome.facts_key})
        for outcome, number in self.outcomes.items():
            yield _outcome_row(number, outcome, self._decisions)

    def decision(self, key: str) -> Decision:
        """Return the row of the decision table for a key of facts."""
        self._ask({key})
        return self._decisions[key]

    def _ask(self, keys: set[str]) -> None:
        """Read the decisions that are not known yet, all at once."""
        new = keys - self._decisions.keys()
        if new:
            self._decisions |= decisions_of(self.classification, new)


class Contradiction(NamedTuple):
    """Evidence of one line that cannot all be true, as it is stored."""

    portion: str
    reason: str
    record_ids: list[int]


Found = list[tuple[str, str, list[int]]]  # portion, reason, places of the records


class Reader:
    """Walks evidence line by line; portions with alike evidence are weighed once.

    Alike means: piece by piece the same fact, seen at the same places, and the days in the same
    order; nothing else plays a part in the weighing.
    """

    def __init__(self, weigher: Weigher, recorded_at: datetime):
        self.weigher = weigher
        self.recorded_at = recorded_at
        self.today = localdate(recorded_at)
        self.conflicts: dict[int, list[Contradiction]] = {}
        self._known: dict[tuple, tuple[int, Found]] = {}
        self._pieces: dict[tuple, tuple[int, date | None]] = {}
        self._facts: dict[tuple, int] = {}
        self._alike = Alike(weigher.policy)
        self._known_facts: dict[tuple, int] = {}
        self._days: dict = {}

    def rows(self, evidence: Iterator[tuple], report) -> Iterator[tuple]:
        """Yield (line id, outcome number, the day it takes effect if that is before today)."""
        for number, (line_id, group) in enumerate(groupby(evidence, itemgetter(0)), start=1):
            rows = list(group)
            yield line_id, self._outcome(line_id, rows), self._early(rows)
            if report and not number % bulk.CHUNK:
                report(number, 0)

    def _outcome(self, line_id: int, rows: list[tuple]) -> int:
        if rows[0][2] is None or rows[0][1] == 2:  # no live evidence, or no line after all
            out = self.weigher.number(OUT_OF_INVENTORY) if rows[0][1] else None
            return self.weigher.weigh([])[0] if out is None else out
        if any(row[_WITHDRAWS] is not None or row[_RESOLVES] for row in rows):
            number, weighed = self.weigher.weigh([record_of(row[2:]) for row in rows])
            self._note(line_id, rows, _found(weighed, rows))
            return number
        portions: dict[str, list[tuple]] = {name: [] for name in _PORTIONS}
        for row in rows:
            portions[row[_PORTION]].append(row)
        parts = tuple(self._part(line_id, name, own) for name, own in portions.items())
        return self.weigher.combine(parts)

    def _note(self, line_id: int, rows: list[tuple], found: Found) -> None:
        if found:
            self.conflicts.setdefault(line_id, []).extend(
                Contradiction(portion, reason, sorted(rows[at][_ID] for at in places))
                for portion, reason, places in found
            )

    def _part(self, line_id: int, portion: str, rows: list[tuple]) -> int:
        """The number of what the evidence of one portion amounts to."""
        key = self._key(rows) or (portion,)
        if key not in self._known:
            weighed = weigh([record_of(row[2:]) for row in rows], self.weigher.policy)
            part = self.weigher.part(Portion(portion), weighed)
            self._known[key] = part, _found(weighed, rows)
        number, found = self._known[key]
        self._note(line_id, rows, found)
        return number

    def _key(self, rows: list[tuple]) -> tuple:
        if not rows:
            return ()
        if len(rows) == 1:
            return self._piece(rows[0])[0], rows[0][_PLACE]
        pieces = [self._piece(row) for row in rows]
        order = {day: rank for rank, day in enumerate(sorted({day for _, day in pieces}))}
        return tuple(
            (fact, row[_PLACE], order[day]) for row, (fact, day) in zip(rows, pieces, strict=True)
        )

    def _piece(self, row: tuple) -> tuple[int, date]:
        """The number of the fact that a row reduces to, and the day it speaks of."""
        known = self._pieces.get(row[_KEY])
        if known is None:
            own = day_of(row[_AT["observed_on"]]) or day_of(row[_AT["installed_on"]])
            if own is None and row[_AT["installed_year"]]:
                own = date(row[_AT["installed_year"]], 1, 1)
            known = self._pieces[row[_KEY]] = self._fact(row), own
        number, own = known
        return number, own or self._day_recorded(row[_AT["recorded_at"]])

    def _day_recorded(self, moment) -> date:
        """The utility's day of a moment; a batch records all its rows at one."""
        if moment not in self._days:
            self._days[moment] = localdate(moment_of(moment))
        return self._days[moment]

    def _fact(self, row: tuple) -> int:
        key = self._alike.key(*(row[_AT[name]] for name in _TELLING), bool(row[_AT["place"]]))
        if key not in self._known_facts:
            facts = signature([record_of(row[2:])], self.weigher.policy).facts
            self._known_facts[key] = self._facts.setdefault(facts, len(self._facts))
        return self._known_facts[key]

    def _early(self, rows: list[tuple]) -> date | None:
        """The earliest day before today of which a row recorded now speaks, if there is one."""
        days = [
            self._speaks_from(row)
            for row in rows
            if row[_BASIS] == Basis.REPLACEMENT or row[_COUNTS_FROM]
        ]
        early = min((day for day in days if day), default=self.today)
        return early if early < self.today else None

    def _speaks_from(self, row: tuple) -> date | None:
        if moment_of(row[_AT["recorded_at"]]) != self.recorded_at:
            return None
        own = day_of(row[_COUNTS_FROM])
        return own or (
            day_of(row[_AT["observed_on"]]) if row[_BASIS] == Basis.REPLACEMENT else None
        )


def _found(weighed: Weighed, rows: list[tuple]) -> Found:
    """Each contradiction with the places of its records among the rows."""
    places = {row[_ID]: at for at, row in enumerate(rows)}
    return [
        (found.portion.value, found.reason, [places[pk] for pk in found.record_ids])
        for found in weighed.conflicts
    ]


def _outcome_row(number: int, outcome: Outcome, decisions: dict[str, Decision]) -> tuple:
    key = outcome.facts_key
    if key is None:
        return number, None, None, "UNKNOWN", "UNKNOWN", "UNKNOWN", None, False, "", False
    row, facts = decisions[key], facts_from_key(key)
    return (
        number, row.pk, row.category, facts.system, facts.customer, facts.connector,
        facts.system_was_lead, facts.system_below_lead, outcome.validation, outcome.in_conflict,
    )  # fmt: skip
