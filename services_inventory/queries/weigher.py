"""The one place where evidence becomes an outcome by the rule of a day.

Evidence is reduced to facts, and facts come to a standing, a category and a place in validation;
each combination is judged once. Alike evidence of lines is also reduced once.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple, Self

from django.utils.timezone import localdate

from ..domain.classification import Classification, Policy, classify, facts_key
from ..domain.evidence import (
    Conflict,
    EvidencePolicy,
    EvidenceRecord,
    Fact,
    Portion,
    Reduced,
    Signature,
    Standing,
    Weighed,
    conflicts,
    explained,
    reduce,
    stand,
)
from ..domain.regulation import Rules
from ..domain.validation import Membership, membership
from ..models import Evidence
from ..policy import classification_policy, evidence_policy, rules_in_force
from .evidence_rows import COLUMNS, moment_of, record_of

MOST_KEPT = 10_000  # kinds of evidence kept at a time, so that memory stays flat
OBSERVED, LAID_ON, LAID_IN, AT, WITHDRAWS, RESOLVES = (
    COLUMNS.index(name)
    for name in (
        "observed_on", "installed_on", "installed_year", "recorded_at", "withdraws_id", "resolves"
    )
)  # fmt: skip
SAYS = slice(COLUMNS.index("portion"), OBSERVED), slice(OBSERVED + 1, RESOLVES + 1)


class Outcome(NamedTuple):
    """What the evidence of a line amounts to, as it is stored."""

    facts_key: str | None
    validation: str
    in_conflict: bool


class Judged(NamedTuple):
    """What facts come to under a rule."""

    standing: Standing
    classification: Classification
    membership: Membership
    outcome: Outcome


class Read(NamedTuple):
    """What rows of one line come to; its records are numbered by their places among the rows."""

    judged: Judged
    reduced: Reduced
    conflicts: tuple[Conflict, ...]
    # Of each portion the row that tells most of those it rests on, and how many points were seen.
    telling: dict[Portion, tuple[int | None, int | None]]


class Weigher:
    """From evidence to outcome under the rule of a day, with one cache."""

    def __init__(self, evidence: EvidencePolicy, classification: Policy, rules: Rules):
        self.policy = evidence
        self.classification_policy = classification
        self.rules = rules
        self._judged: dict[Signature, Judged] = {}
        self._read: dict[tuple, Read] = {}
        self._days: dict = {}

    @classmethod
    def on(cls, day: date) -> Self:
        """Return one that weighs by the rule in force on a day."""
        return cls(evidence_policy(day), classification_policy(day), rules_in_force())

    def judge(self, found: Signature) -> Judged:
        """Return what reduced evidence comes to."""
        known = self._judged.get(found)
        if known is None:
            standing = stand(found)
            classification = classify(standing.facts, self.classification_policy)
            member = membership(classification.category, standing.portions, self.rules)
            conflict = any(portion.in_conflict for portion in standing.portions)
            outcome = Outcome(facts_key(standing.facts), member.status or "", conflict)
            known = self._judged[found] = Judged(standing, classification, member, outcome)
        return known

    def judge_facts(self, facts: Iterable[Fact]) -> Judged:
        """Return what facts come to that no decision touches, in any order."""
        policy = self.policy
        return self.judge(
            Signature(tuple(sorted(facts)), policy.points_needed, policy.never_had_lead)
        )

    def category(self, records: Iterable[EvidenceRecord]) -> str:
        """Return the category of a line with these records."""
        return self.judge(reduce(records, self.policy).signature).classification.category

    def read(self, rows: Sequence[tuple]) -> Read:
        """Return what rows of one line, in the order of `COLUMNS`, come to; alike ones once.

        Of the days that they speak of only the order matters, so lines with a long history that
        says the same at other times share one weighing.
        """
        days = [self._speaks_of(row) for row in rows]
        rank = {day: at for at, day in enumerate(sorted(set(days)))}
        said, more = SAYS
        key = tuple(
            [(*row[said], *row[more], rank[day]) for row, day in zip(rows, days, strict=True)]
        )
        found = self._read.get(key)
        if found is None:
            found = self._read_anew(rows)
            # Rows that speak of other rows depend on ids and moments, so they stay alone.
            if not any(row[WITHDRAWS] or row[RESOLVES] for row in rows):
                if len(self._read) >= MOST_KEPT:
                    self._read.clear()
                self._read[key] = found
        return found

    def _read_anew(self, rows: Sequence[tuple]) -> Read:
        place = {row[0]: at for at, row in enumerate(rows)}
        records = [
            record_of((at, *row[1:WITHDRAWS], place.get(row[WITHDRAWS]), *row[WITHDRAWS + 1 :]))
            for at, row in enumerate(rows)
            if row[WITHDRAWS] is None or row[WITHDRAWS] in place
        ]
        reduced = reduce(records, self.policy)
        judged = self.judge(reduced.signature)
        telling = {
            found.portion: (
                max((reduced.records[at] for at in found.support), key=_weight).id,
                found.points or None,
            )
            if found.support
            else (None, None)
            for found in judged.standing.portions
        }
        return Read(judged, reduced, conflicts(judged.standing, reduced.records), telling)

    def _speaks_of(self, row: tuple) -> str:
        """The day of which a row speaks, as `EvidenceRecord.speaks_of`: seen, laid, recorded."""
        if day := row[OBSERVED] or row[LAID_ON]:
            return str(day)
        year = row[LAID_IN]
        if year and date.min.year <= year <= date.max.year:
            return f"{year:04}-01-01"
        moment = row[AT]  # a batch records all its rows at one
        if moment not in self._days:
            if len(self._days) >= MOST_KEPT:
                self._days.clear()
            self._days[moment] = str(localdate(moment_of(moment)))
        return self._days[moment]

    def weigh(self, records: Iterable[EvidenceRecord]) -> tuple[Weighed, Judged]:
        """Return what a line's records come to, and the same as a page explains it."""
        reduced = reduce(records, self.policy)
        judged = self.judge(reduced.signature)
        return explained(reduced, judged.standing, self.policy), judged


def _weight(record: EvidenceRecord) -> tuple:
    return record.basis.traits.strength, record.speaks_of, record.points_seen, record.id


def line_records(line_id: int) -> list[EvidenceRecord]:
    """Return one line's evidence, that of batches taken back left out."""
    rows = Evidence.objects.filter(line_id=line_id).exclude(batch__withdrawn_by__isnull=False)
    return [record_of(row) for row in rows.values_list(*COLUMNS)]


def line_weighed(line_id: int, as_of: date) -> tuple[Weighed, Judged]:
    """Weigh one line's evidence as a page shows it, by the rule of a day."""
    return Weigher.on(as_of).weigh(line_records(line_id))
