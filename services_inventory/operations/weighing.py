"""Outcomes as they are written: numbered, with their rows of the decision table."""

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
    Classification,
    LineFacts,
    Policy,
    classify,
    decision_table,
    facts_from_key,
    facts_key,
)
from ..domain.evidence import Basis
from ..models import Batch, Decision
from ..queries.evidence_rows import COLUMNS, day_of, moment_of
from ..queries.weigher import Outcome, Weigher

_AT = {name: number for number, name in enumerate(COLUMNS, start=2)}
_ID, _BASIS, _COUNTS_FROM = _AT["id"], _AT["basis"], _AT["counts_from"]

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
    text = repr([(facts_key(facts), found) for facts, found in decision_table(policy)])
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


def _decision(key: str, facts: LineFacts, classification: Classification) -> Decision:
    return Decision(
        policy_key=key,
        facts_key=facts_key(facts),
        category=classification.category,
        reason=classification.reason,
        citation=classification.citation,
        would_settle=list(classification.would_settle),
        rests_on_connectors=classification.rests_on_connectors,
    )


def evidence_rows(line_ids: Iterable[int] | None) -> Iterator[tuple]:
    """Yield (line id, line's batch id, evidence columns …), by line; live batches only."""
    gone = withdrawn_batches()
    columns = ", ".join(f"e.{name}" for name in COLUMNS)
    alive = f" AND (e.batch_id IS NULL OR e.batch_id NOT IN ({listed(gone)}))" if gone else ""
    of_gone = f" OR l.batch_id IN ({listed(gone)})" if gone else ""
    born_of_gone = f"CASE WHEN l.given_up THEN 2 WHEN FALSE{of_gone} THEN 1 ELSE 0 END"
    some = named = ""
    if line_ids is not None:
        bulk.stage("standing_lines", [("id", "KEY")], ((pk,) for pk in set(line_ids)))
        bulk.index("standing_lines")
        some, named = "standing_lines s CROSS JOIN ", " WHERE l.id = s.id"
    return bulk.stream(
        f"SELECT l.id, {born_of_gone}, {columns} FROM {some}services_inventory_serviceline l "
        f"LEFT JOIN services_inventory_evidence e ON e.line_id = l.id{alive}{named} ORDER BY l.id"
    )


def withdrawn_batches() -> list[int]:
    """Ids of the batches that were withdrawn."""
    rows = Batch.objects.filter(withdraws__isnull=False)
    return list(rows.values_list("withdraws_id", flat=True))


def listed(ids: Sequence[int]) -> str:
    return ", ".join(str(int(pk)) for pk in ids)


class NumberingWeigher(Weigher):
    """A weigher that numbers the outcomes it meets, and knows their decisions."""

    def __init__(self, *rule):
        super().__init__(*rule)
        self.outcomes: dict[Outcome, int] = {}
        self._decisions: dict[str, Decision] = {}

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
            self._decisions |= decisions_of(self.classification_policy, new)


class Contradiction(NamedTuple):
    """Evidence of one line that cannot all be true, as it is stored."""

    portion: str
    reason: str
    record_ids: list[int]


class Reader:
    """Walks evidence line by line."""

    def __init__(self, weigher: NumberingWeigher, recorded_at: datetime):
        self.weigher = weigher
        self.recorded_at = recorded_at
        self.today = localdate(recorded_at)
        self.conflicts: dict[int, list[Contradiction]] = {}

    def rows(self, evidence: Iterator[tuple], report) -> Iterator[tuple]:
        """Yield (line id, outcome number, the day it takes effect if that is before today)."""
        for number, (line_id, group) in enumerate(groupby(evidence, itemgetter(0)), start=1):
            # As recorded: a row is taken back by a later one, also of the same moment.
            rows = sorted(group, key=itemgetter(_ID))
            yield line_id, self.weigher.number(self._outcome(line_id, rows)), self._early(rows)
            if report and not number % bulk.CHUNK:
                report(number, 0)

    def _outcome(self, line_id: int, rows: list[tuple]) -> Outcome:
        _, out, *first = rows[0]
        bare = first[0] is None
        if out == 2 or (out and bare):  # no line after all, or one that only its file named
            return OUT_OF_INVENTORY
        found = self.weigher.read([] if bare else [row[2:] for row in rows])
        if found.conflicts:
            self.conflicts[line_id] = [
                Contradiction(
                    one.portion, one.reason, sorted(rows[at][_ID] for at in one.record_ids)
                )
                for one in found.conflicts
            ]
        return found.judged.outcome

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


def _outcome_row(number: int, outcome: Outcome, decisions: dict[str, Decision]) -> tuple:
    key = outcome.facts_key
    if key is None:
        return number, None, None, "UNKNOWN", "UNKNOWN", "UNKNOWN", None, False, "", False
    row, facts = decisions[key], facts_from_key(key)
    return (
        number, row.pk, row.category, facts.system, facts.customer, facts.connector,
        facts.system_was_lead, facts.system_below_lead, outcome.validation, outcome.in_conflict,
    )  # fmt: skip
