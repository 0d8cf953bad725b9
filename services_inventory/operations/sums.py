"""Standings of many lines at once: the database adds up what the evidence of each line says.

Each piece of evidence carries the code of the fact that it reduces to (`facts.Facts`), and the
sum of a line's codes tells which facts it has. A few thousand sums serve a million lines; each is
weighed once, in every order that its days may have. Only where the order decides, or a piece of
evidence has no code (it names a place, takes something back, is a replacement), is a line read.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from itertools import groupby, product
from operator import itemgetter
from typing import NamedTuple

from .. import bulk
from ..domain.evidence import Fact, Portion, conflicts, reduce, stand
from ..facts import TELLING, Facts, sums_keep
from ..intake.matching import LINE
from ..intake.unchanged import EVIDENCE, living
from ..models import KnownFact, KnownSum
from .weighing import (
    OUT_OF_INVENTORY,
    OUTCOME_COLUMNS,
    Contradiction,
    NumberingWeigher,
    listed,
    withdrawn_batches,
)

MOST_IN_ORDER = 4  # facts of a portion; their days can lie in 75 orders
MANY_WITHOUT = 2_000  # lines with evidence that lacks its code, from which codes are written
NOTHING, OUT = 0, -1  # the sums of a line without evidence, and of one that only its file named
STAGED = (
    ("line_id", "KEY"), ("outcome", "INTEGER"), ("early_on", "DATE"), ("total", "INTEGER"),
    ("was", "TEXT"), ("as_decided", "INTEGER"),
)  # fmt: skip


class Said(NamedTuple):
    """A contradiction in the evidence of a portion, and the codes that are part of it."""

    portion: str
    reason: str
    codes: frozenset[int]


class Part(NamedTuple):
    """What is known of a portion, contradictions in it, and all of it that tells in a line."""

    facts: tuple[Fact, ...]
    said: list[Said]
    means: tuple | None


class Sums:
    """Weighs sums of fact codes: those found before, and those that a walk over lines meets."""

    def __init__(self, weigher: NumberingWeigher):
        self.weigher = weigher
        self.facts = Facts(weigher.policy)
        self._parts: dict[tuple, Part | None] = {}
        self._alike: dict[tuple, int] = {}
        self.read()

    def read(self) -> None:
        """Begin with the sums and facts that are known under the rule in force."""
        self.outcomes: dict[int, int | None] = {OUT: self.weigher.number(OUT_OF_INVENTORY)}
        self.contradictions: dict[int, list[Said]] = {}
        self.stale = False
        self._fresh: dict[int, list[int]] = {}
        self._examples = self.facts.examples()
        self._portions = {code: found.portion for code, found in self._examples.items()}
        self._add(NOTHING, [])
        for total, codes in KnownSum.objects.values_list("total", "codes"):
            if self._examples.keys() >= set(codes) and sum(codes) == total:
                self._add(total, codes)

    def add(self, total: int, codes: list[int]) -> None:
        """Weigh a sum that was met for the first time, given the codes that it is made of."""
        if self._examples.keys() >= set(codes):
            self._add(total, codes)
            self._fresh[total] = codes
        else:
            self.stale = True

    def _add(self, total: int, codes: list[int]) -> None:
        of_portion: dict[Portion, list[int]] = {portion: [] for portion in Portion}
        # Of equal facts the latest alone tells, and each place in the order is tried.
        for code in dict.fromkeys(codes):
            of_portion[self._portions[code]].append(code)
        parts = []
        for portion, own in of_portion.items():
            part = self._part(portion, tuple(own))
            if part is None:
                self.outcomes[total] = None
                return
            parts.append(part)
        alike = tuple([part.means for part in parts])
        if alike not in self._alike:
            judged = self.weigher.judge_facts(fact for part in parts for fact in part.facts)
            self._alike[alike] = self.weigher.number(judged.outcome)
        self.outcomes[total] = self._alike[alike]
        if said := [one for part in parts for one in part.said]:
            self.contradictions[total] = said

    def _part(self, portion: Portion, codes: tuple[int, ...]) -> Part | None:
        """What facts of one portion come to; None where that depends on the order of their days."""
        key = (portion, codes)
        if key not in self._parts:
            found = None
            if len(codes) <= MOST_IN_ORDER:
                found = self._weighed(portion, codes)
            self._parts[key] = found
        return self._parts[key]

    def _weighed(self, portion: Portion, codes: tuple[int, ...]) -> Part | None:
        found = None
        for order in orders(len(codes)):
            records = [
                replace(self._examples[code], id=at, observed_on=date(2000, 1, rank))
                for at, (code, rank) in enumerate(zip(codes, order, strict=True))
            ]
            reduced = reduce(records, self.weigher.policy)
            standing = stand(reduced.signature)
            own = standing.portion(portion)
            means = standing.facts, own.material, own.validation, own.points, own.in_conflict
            if found not in (None, means):
                return None
            found = means
        said = [
            Said(one.portion.value, one.reason, frozenset(codes[at] for at in one.record_ids))
            for one in conflicts(standing, reduced.records)
        ]
        return Part(reduced.signature.facts, said, found)

    def stage(self, only: Iterable[int] | None = None) -> None:
        """Stage each sum, or only these, with the standing it comes to, as `sum_standing`."""
        standings = {row[0]: row for row in self.weigher.rows()}
        kinds = [("total", "KEY"), ("outcome", "INTEGER"), *OUTCOME_COLUMNS[1:]]
        totals = self.outcomes if only is None else set(only) & self.outcomes.keys()
        found = ((total, self.outcomes[total]) for total in totals)
        rows = ((total, *standings[of]) for total, of in found if of is not None)
        bulk.stage("sum_standing", kinds, rows)
        bulk.index("sum_standing")

    def keep(self) -> None:
        """Write the sums met for the first time."""
        sums_keep(self._fresh.items())
        self._fresh = {}


@cache
def orders(number: int) -> list[tuple[int, ...]]:
    """Return every order that the days of so many facts can have, equal days among them."""
    ranks = product(range(1, number + 1), repeat=number)
    return [found for found in ranks if set(found) == set(range(1, max(found, default=0) + 1))]


def stage_sums(
    sums: Sums,
    lines: str,
    unlike: Sequence[str] = (),
    *,
    conflicts: bool = False,
    codes_written: bool = False,
    evidence: str = EVIDENCE,
) -> list[int]:
    """Put standings into `standing_stage` by their sums; return the lines that must be read.

    Parameters
    ----------
    lines : a staged table of line ids, all of which are staged; or the empty text for every line
        whose standing on record is another in one of the columns `unlike`
    conflicts : stage lines in conflict as well, whatever stands on record
    codes_written : the codes of all evidence have just been written; don't do that again
    evidence : what to read codes from: the table, or `codes_tried`
    """
    sums.stage()
    gone = listed(withdrawn_batches())
    columns = "line_id, outcome, total, was, as_decided"
    into = f"INSERT INTO standing_stage ({columns}) SELECT"
    some = ""
    if not lines:
        differs = " OR ".join(f"k.{name} IS DISTINCT FROM l.{name}" for name in unlike)
        some = f" AND (k.outcome IS NULL OR {differs}{' OR k.in_conflict' if conflicts else ''})"
    kept = "l.category, CASE WHEN k.decision_id = l.decision_id THEN 1 ELSE 0 END"
    total = f"CASE WHEN g.lacking = 0 THEN COALESCE(g.total, {_bare(gone)}) END"
    with_evidence = bulk.execute(
        f"{into} l.id, k.outcome, {total}, {kept} FROM ({_added_up(lines, gone, evidence)}) g "
        f"CROSS JOIN {LINE} l LEFT JOIN sum_standing k ON k.total = {total} "
        f"WHERE l.id = g.line_id{some}"
    )
    among = f"{lines} w CROSS JOIN {LINE} l" if lines else f"{LINE} l"
    wanted = "l.id = w.id AND " if lines else ""
    if _have_evidence(lines, with_evidence) < bulk.number(f"SELECT count(*) FROM {lines or LINE}"):
        bulk.execute(
            f"{into} l.id, k.outcome, {_bare(gone)}, {kept} FROM {among} "
            f"LEFT JOIN sum_standing k ON k.total = {_bare(gone)} WHERE {wanted}NOT EXISTS "
            f"(SELECT 1 FROM {EVIDENCE} e WHERE e.line_id = l.id){some}"
        )
    _weigh_new_sums(sums, evidence)
    if not lines and not codes_written and (sums.stale or _codes_are_missing()):
        codes_write(sums.facts)
        bulk.execute("DELETE FROM standing_stage")
        sums.read()
        return stage_sums(sums, "", unlike, conflicts=conflicts, codes_written=True)
    unsettled = "FROM standing_stage WHERE outcome IS NULL"
    others = [pk for (pk,) in bulk.stream(f"SELECT line_id {unsettled}")]
    bulk.execute(f"DELETE {unsettled}")
    bulk.drop("sum_standing")
    return others


def _bare(gone: str) -> str:
    """The sum of a line without evidence that counts; another if its own file was taken back."""
    of_gone = f" OR l.batch_id IN ({gone})" if gone else ""
    return f"CASE WHEN l.given_up{of_gone} THEN {OUT} ELSE {NOTHING} END"


def _added_up(lines: str, gone: str, evidence: str) -> str:
    """Select for each line how many pieces of evidence that count lack a code, and the sum."""
    source = f"{lines} w JOIN {evidence} e ON e.line_id = w.id" if lines else f"{evidence} e"
    counts = f"(e.batch_id IS NULL OR e.batch_id NOT IN ({gone}))"
    also, only = (f" AND {counts}", f" FILTER (WHERE {counts})") if gone else ("", "")
    return (
        f"SELECT e.line_id, count(*) FILTER (WHERE e.fact_code IS NULL{also}) AS lacking, "
        f"CAST(sum(e.fact_code){only} AS bigint) AS total "
        f"FROM {source} GROUP BY e.line_id"
    )


def _have_evidence(lines: str, staged: int) -> int:
    """Return how many of the lines have any evidence; of `lines`, all that have are staged."""
    return staged if lines else bulk.number(f"SELECT count(DISTINCT line_id) FROM {EVIDENCE}")


def _weigh_new_sums(sums: Sums, evidence: str) -> None:
    """Weigh the sums that were not known, each by the codes of one line that has it."""
    met = bulk.stream(
        "SELECT total, min(line_id) FROM standing_stage "
        "WHERE outcome IS NULL AND total IS NOT NULL GROUP BY total"
    )
    fresh = [(line, total) for total, line in met if total not in sums.outcomes]
    if not fresh:
        return
    bulk.stage("sum_example", [("line_id", "KEY"), ("total", "INTEGER")], fresh)
    bulk.index("sum_example")
    rows = bulk.stream(
        f"SELECT x.total, e.fact_code FROM sum_example x CROSS JOIN {evidence} e "
        f"WHERE e.line_id = x.line_id{living()} ORDER BY x.line_id"
    )
    for total, group in groupby(rows, itemgetter(0)):
        sums.add(total, sorted(code for _, code in group))
    bulk.drop("sum_example")
    sums.stage(only=[total for _, total in fresh])
    sums.keep()
    bulk.execute(
        "UPDATE standing_stage SET outcome = k.outcome FROM sum_standing k "
        "WHERE standing_stage.outcome IS NULL AND k.total = standing_stage.total"
    )


def _codes_are_missing() -> bool:
    """Whether so many lines lack codes that reading them would take longer than writing codes."""
    without = bulk.number("SELECT count(*) FROM standing_stage WHERE total IS NULL")
    return without > MANY_WITHOUT and MANY_WITHOUT < bulk.number(
        f"SELECT count(*) FROM {EVIDENCE} WHERE content_key IS NOT NULL AND fact_code IS NULL "
        "AND basis <> 'REPLACEMENT'"
    )


class CodesWritten(NamedTuple):
    """How many pieces of evidence got another code, and how many of these had a wrong one.

    A code of an earlier rule was right in its day; one of no rule, or none at all, never was.
    """

    replaced: int
    wrong: int


def codes_write(facts: Facts) -> CodesWritten:
    """Let all evidence carry the codes of the rule in force, and forget those of another."""
    _codes_stage(facts)
    differs = "f.content_key = e.content_key AND e.fact_code IS DISTINCT FROM f.code"
    earlier = (
        "SELECT 1 FROM services_inventory_knownfact k WHERE k.code = e.fact_code AND k.rule <> %s"
    )
    wrong = bulk.number(
        f"SELECT count(*) FROM fact_of f CROSS JOIN {EVIDENCE} e WHERE {differs} "
        f"AND NOT EXISTS ({earlier})",
        [facts.rule],
    )
    replaced = bulk.execute(
        f"UPDATE {EVIDENCE} AS e SET fact_code = f.code FROM fact_of f WHERE {differs}"
    )
    bulk.drop("fact_of")
    KnownSum.objects.all().delete()
    KnownFact.objects.exclude(rule=facts.rule).delete()
    facts.keep()
    return CodesWritten(replaced, wrong)


def _codes_stage(facts: Facts) -> None:
    """Stage the code of each content of evidence under a rule, as `fact_of`."""
    codes = ((key, facts.code(*telling)) for key, *telling in _examples())
    bulk.stage("fact_of", [("content_key", "KEY"), ("code", "INTEGER")], codes)
    bulk.index("fact_of")


def codes_tried(sums: Sums) -> str:
    """Let sums be weighed under a rule that is only tried; return what to read codes from.

    No evidence is written: its codes under that rule stand beside it.
    """
    _codes_stage(sums.facts)
    sums.facts.keep()
    sums.read()
    return (
        f"(SELECT t.id, t.line_id, t.batch_id, f.code AS fact_code FROM {EVIDENCE} t "
        "LEFT JOIN fact_of f ON f.content_key = t.content_key)"
    )


def _examples() -> Iterator[tuple]:
    """Yield (content key, statement …) of one row of each content."""
    bulk.stage("fact_example", [("content_key", "KEY"), ("id", "INTEGER")], ())
    # Keys met before are passed over, which costs a third of sorting all of them.
    bulk.execute(
        f"INSERT INTO fact_example (content_key, id) SELECT e.content_key, e.id FROM {EVIDENCE} e "
        "WHERE e.content_key IS NOT NULL ON CONFLICT DO NOTHING"
    )
    names = ", ".join(f"e.{name}" for name in TELLING)
    yield from list(
        bulk.stream(
            f"SELECT x.content_key, {names} FROM fact_example x CROSS JOIN {EVIDENCE} e "
            "WHERE e.id = x.id"
        )
    )
    bulk.drop("fact_example")


def contradictions(sums: Sums) -> dict[int, list[Contradiction]]:
    """Return the contradictions of the staged lines that are in conflict by their sums."""
    rows = bulk.stream(
        "SELECT s.line_id, s.total, e.id, e.fact_code FROM standing_stage s "
        "CROSS JOIN standing_outcome o "
        f"CROSS JOIN {EVIDENCE} e WHERE o.outcome = s.outcome AND o.in_conflict "
        f"AND s.total IS NOT NULL AND e.line_id = s.line_id{living()} ORDER BY s.line_id, e.id"
    )
    found: dict[int, list[Contradiction]] = {}
    for (line_id, total), group in groupby(rows, itemgetter(0, 1)):
        evidence = [row[2:] for row in group]
        found[line_id] = [
            Contradiction(said.portion, said.reason, [pk for pk, c in evidence if c in said.codes])
            for said in sums.contradictions[total]
        ]
    return found
