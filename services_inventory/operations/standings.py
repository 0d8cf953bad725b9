"""From evidence to standing, for one line or for all of them, by one rule.

The evidence of each line is reduced to what the standing depends on; lines with the same
evidence share one weighing, and the results go back in a few set-based statements. Nothing
else in the program writes a category.
"""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from functools import cache
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.db import transaction
from django.utils.timezone import localdate

from .. import bulk
from ..domain.classification import Policy, classify, decision_table, facts_key
from ..domain.evidence import (
    Basis,
    Era,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    Weighed,
    weigh,
)
from ..domain.materials import Material
from ..domain.validation import membership
from ..models import Batch, Conflict, Decision, Evidence
from ..policy import classification_policy, evidence_policy
from .plain_standings import stage_plain

_COLUMNS = (
    "id portion material basis era points_seen place observed_on installed_on installed_year "
    "diameter_in length_ft every_earlier_pipe below_lead withdraws_id resolves recorded_at "
    "batch_id"
).split()
_AT = {name: number for number, name in enumerate(_COLUMNS, start=2)}
MANY = 2_000  # lines from which the plain ones are better left to the database
_KEY = slice(_AT["portion"], _AT["below_lead"] + 1)


class Outcome(NamedTuple):
    """What the evidence of a line amounts to, as it is stored."""

    facts_key: str | None
    validation: str
    in_conflict: bool


OUT_OF_INVENTORY = Outcome(None, "", False)


@cache
def policy_key(policy: Policy) -> str:
    """Return a short name for the decision table of a policy, new when any reason changes."""
    text = repr([(facts_key(facts), verdict) for facts, verdict in decision_table(policy)])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def decisions_write(policy: Policy) -> str:
    """Make the decision table of this policy stand in the database; return its key."""
    key = policy_key(policy)
    if not Decision.objects.filter(policy_key=key).exists():
        Decision.objects.bulk_create(
            Decision(
                policy_key=key,
                facts_key=facts_key(facts),
                category=verdict.category,
                reason=verdict.reason,
                citation=verdict.citation,
                would_settle=list(verdict.would_settle),
            )
            for facts, verdict in decision_table(policy)
        )
    return key


def standings_derive(
    *,
    line_ids: Iterable[int] | None,
    recorded_at: datetime,
    by: str,
    batch: Batch | None = None,
    report=None,
) -> int:
    """Derive the standing of these lines (None: of all) and write what changed.

    Returns the number of lines whose category changed. A change takes effect on the day it is
    recorded, which is when the utility knew; a replacement, on the day of the work.
    """
    with transaction.atomic():
        reader = _stage(line_ids, recorded_at, report)[1]
        changed = _write(recorded_at, by, batch)
        _write_conflicts(reader.conflicts, recorded_at)
        bulk.drop("standing_stage", "standing_outcome")
    return changed


def _stage(line_ids: Iterable[int] | None, recorded_at: datetime, report) -> tuple[int, "_Reader"]:
    """Stage the standing of these lines as the evidence has it; return their number too."""
    ids = None if line_ids is None else set(line_ids)
    weigher = Weigher(localdate(recorded_at))
    reader = _Reader(weigher, recorded_at)
    kinds = [("line_id", "INTEGER"), ("outcome", "INTEGER"), ("effective_on", "DATE")]
    bulk.stage("standing_stage", kinds, ())
    plain = ids is None or len(ids) >= MANY
    if plain:
        ids = _stage_plain(ids, weigher, reader)
    if ids or not plain:
        rows = reader.rows(_evidence_rows(ids), report)
        bulk.fill("standing_stage", [name for name, _ in kinds], rows)
    weigher.stage()
    bulk.index("standing_stage")
    return bulk.number("SELECT count(*) FROM standing_stage"), reader


def _stage_plain(ids: set[int] | None, weigher: "Weigher", reader: "_Reader") -> list[int]:
    """Stage the standings of plain lines; return the lines that are read one by one."""
    if ids is not None:
        bulk.stage("plain_wanted", [("id", "KEY")], ((pk,) for pk in ids))
        bulk.index("plain_wanted")
    others = stage_plain(
        weigher=weigher,
        out_of_inventory=weigher.number(OUT_OF_INVENTORY),
        record_of=record_of,
        columns=_COLUMNS,
        lines="" if ids is None else "plain_wanted",
        gone=_ids(_gone()),
        day=reader.today,
    )
    bulk.drop("plain_wanted")
    return others


def standings_compare(*, recorded_at: datetime, report=None, examples: int = 20) -> dict:
    """Compare what every line carries with what its evidence amounts to; write nothing.

    Returns
    -------
    dict
        `lines` compared, number of `differences`, and up to `examples` of them, each with the
        location and what is stored and derived.
    """
    with transaction.atomic():
        lines, _ = _stage(None, recorded_at, report)
        differs = " OR ".join(f"l.{name} IS DISTINCT FROM o.{name}" for name in _COMPARED)
        source = (
            "FROM standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome "
            f"JOIN services_inventory_serviceline l ON l.id = s.line_id WHERE {differs}"
        )
        differences = bulk.number(f"SELECT count(*) {source}")
        names = ", ".join(f"l.{name}, o.{name}" for name in _COMPARED)
        rows = bulk.stream(f"SELECT l.location_id, {names} {source} ORDER BY l.id LIMIT {examples}")
        shown = [_difference(*row) for row in rows] if differences else []
        bulk.drop("standing_stage", "standing_outcome")
    return {"lines": lines, "differences": differences, "examples": shown}


def _difference(location_id: str, *values) -> dict:
    stored = dict(zip(_COMPARED, values[::2], strict=True))
    derived = dict(zip(_COMPARED, values[1::2], strict=True))
    unlike = [name for name in _COMPARED if stored[name] != derived[name]]
    return {
        "location_id": location_id,
        "stored": {name: stored[name] for name in unlike},
        "derived": {name: derived[name] for name in unlike},
    }


def _evidence_rows(line_ids: Iterable[int] | None) -> Iterator[tuple]:
    """Yield (line id, line's batch id, evidence columns …), by line; live batches only."""
    gone = _gone()
    columns = ", ".join(f"e.{name}" for name in _COLUMNS)
    alive = f" AND (e.batch_id IS NULL OR e.batch_id NOT IN ({_ids(gone)}))" if gone else ""
    born_of_gone = f"CASE WHEN l.batch_id IN ({_ids(gone)}) THEN 1 ELSE 0 END" if gone else "0"
    some = ""
    if line_ids is not None:
        bulk.stage("standing_lines", [("id", "INTEGER")], ((pk,) for pk in set(line_ids)))
        some = " JOIN standing_lines s ON s.id = l.id"
    return bulk.stream(
        f"SELECT l.id, {born_of_gone}, {columns} FROM services_inventory_serviceline l{some} "
        f"LEFT JOIN services_inventory_evidence e ON e.line_id = l.id{alive} ORDER BY l.id"
    )


def _gone() -> list[int]:
    """Ids of the batches that were withdrawn."""
    rows = Batch.objects.filter(withdraws__isnull=False)
    return list(rows.values_list("withdraws_id", flat=True))


def _ids(ids: Sequence[int]) -> str:
    return ", ".join(str(int(pk)) for pk in ids)


class Weigher:
    """Weighs evidence under the rule of a day, and numbers the outcomes it meets."""

    def __init__(self, day: date):
        self.policy: EvidencePolicy = evidence_policy(day)
        self.classification: Policy = classification_policy(day)
        self.outcomes: dict[Outcome, int] = {}

    def weigh(self, records: Iterable[EvidenceRecord]) -> tuple[int, Weighed]:
        """Return the number of the outcome, and the weighing behind it."""
        weighed = weigh(records, self.policy)
        verdict = classify(weighed.facts, self.classification)
        member = membership(verdict.category, weighed.portions)
        conflict = bool(weighed.conflicts)
        return self.number(
            Outcome(facts_key(weighed.facts), member.status or "", conflict)
        ), weighed

    def number(self, outcome: Outcome) -> int:
        """Return the number of an outcome, a fresh one for a new outcome."""
        return self.outcomes.setdefault(outcome, len(self.outcomes))

    def stage(self) -> None:
        """Stage the outcomes met so far, with their decisions, as `standing_outcome`."""
        _stage_outcomes(self.outcomes, decisions_write(self.classification))


class _Reader:
    """Walks evidence line by line; lines with the same evidence are weighed once."""

    def __init__(self, weigher: Weigher, recorded_at: datetime):
        self.weigher = weigher
        self.recorded_at = recorded_at
        self.today = localdate(recorded_at)
        self.conflicts: dict[int, Weighed] = {}
        self._known: dict[tuple, int] = {}

    def rows(self, evidence: Iterator[tuple], report) -> Iterator[tuple]:
        """Yield (line id, outcome number, effective on)."""
        for number, (line_id, group) in enumerate(groupby(evidence, itemgetter(0)), start=1):
            rows = list(group)
            yield line_id, self._outcome(line_id, rows), self._effective(rows)
            if report and not number % bulk.CHUNK:
                report(number, 0)

    def _outcome(self, line_id: int, rows: list[tuple]) -> int:
        if rows[0][2] is None:  # no live evidence
            if rows[0][1]:
                return self.weigher.number(OUT_OF_INVENTORY)
            return self._weigh(line_id, [])
        withdraws, resolves = _AT["withdraws_id"], _AT["resolves"]
        if any(row[withdraws] is not None or row[resolves] for row in rows):
            return self._weigh(line_id, rows)
        key = tuple([(row[_KEY], str(row[_AT["recorded_at"]])[:10]) for row in rows])
        number = self._known.get(key)
        if number is None:
            number = self._weigh(line_id, rows)
            if line_id not in self.conflicts:
                self._known[key] = number
        return number

    def _weigh(self, line_id: int, rows: list[tuple]) -> int:
        number, weighed = self.weigher.weigh([record_of(row[2:]) for row in rows])
        if weighed.conflicts:
            self.conflicts[line_id] = weighed
        return number

    def _effective(self, rows: list[tuple]) -> date:
        """The day of the work for a replacement that is recorded now; else the day of record."""
        basis, seen, at = _AT["basis"], _AT["observed_on"], _AT["recorded_at"]
        for row in rows:
            if (
                row[basis] == Basis.REPLACEMENT
                and row[seen]
                and _moment(row[at]) == self.recorded_at
            ):
                return _day(row[seen])
        return self.today


def record_of(row: Sequence) -> EvidenceRecord:
    """Return the domain's record of an evidence row in the order of its columns."""
    values = dict(zip(_COLUMNS, row, strict=True))
    return EvidenceRecord(
        id=values["id"],
        portion=Portion(values["portion"]),
        material=Material(values["material"]) if values["material"] else None,
        basis=Basis(values["basis"]),
        recorded_at=_moment(values["recorded_at"]),
        era=Era(values["era"]),
        points_seen=values["points_seen"],
        place=values["place"],
        observed_on=_day(values["observed_on"]),
        installed_on=_day(values["installed_on"]),
        installed_year=values["installed_year"],
        diameter_in=values["diameter_in"],
        length_ft=values["length_ft"],
        every_earlier_pipe=bool(values["every_earlier_pipe"]),
        below_lead=bool(values["below_lead"]),
        withdraws=values["withdraws_id"],
        resolves=Material(values["resolves"]) if values["resolves"] else None,
    )


def line_weighed(line_id: int, as_of: date, known_at: datetime | None = None) -> Weighed:
    """Weigh one line's evidence as a page shows it, as was known at a moment if given."""
    rows = (
        Evidence.objects.filter(line_id=line_id)
        .exclude(batch__withdrawn_by__isnull=False)
        .values_list(*_COLUMNS)
    )
    return weigh([record_of(row) for row in rows], evidence_policy(as_of), known_at=known_at)


def _day(value) -> date | None:
    return date.fromisoformat(value) if isinstance(value, str) else value


def _moment(value) -> datetime:
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return value if value.tzinfo else value.replace(tzinfo=_UTC)


_UTC = datetime.fromisoformat("2000-01-01T00:00:00+00:00").tzinfo


def _stage_outcomes(outcomes: dict[Outcome, int], key: str) -> None:
    decisions = {
        found["facts_key"]: found
        for found in Decision.objects.filter(policy_key=key).values("id", "facts_key", "category")
    }
    columns = [("outcome", "KEY"), ("decision_id", "INTEGER"), ("category", "TEXT")]
    columns += [("system_material", "TEXT"), ("customer_material", "TEXT"), ("connector", "TEXT")]
    columns += [("system_was_lead", "BOOLEAN"), ("system_below_lead", "BOOLEAN")]
    columns += [("validation", "TEXT"), ("in_conflict", "BOOLEAN")]
    bulk.stage("standing_outcome", columns, _outcome_rows(outcomes, decisions))


def _outcome_rows(outcomes: dict[Outcome, int], decisions: dict[str, dict]) -> Iterator[tuple]:
    history = {"Y": True, "N": False, "?": None}
    for outcome, number in outcomes.items():
        if outcome.facts_key is None:
            yield number, None, None, "UNKNOWN", "UNKNOWN", "UNKNOWN", None, False, "", False
            continue
        system, customer, connector, was_lead, below = outcome.facts_key.split("|")
        decision = decisions[outcome.facts_key]
        yield (
            number, decision["id"], decision["category"], system, customer, connector,
            history[was_lead], below == "Y", outcome.validation, outcome.in_conflict,
        )  # fmt: skip


_FACTS = (
    "category", "decision_id", "system_material", "customer_material", "connector",
    "system_was_lead", "system_below_lead", "validation", "in_conflict",
)  # fmt: skip


_COMPARED = tuple(name for name in _FACTS if name != "decision_id")


def _write(recorded_at: datetime, by: str, batch: Batch | None) -> int:
    batch_id = batch.pk if batch else None
    joined = "standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome"
    changed = bulk.execute(
        "INSERT INTO services_inventory_categorychange (line_id, from_category, to_category, "
        "decision_id, effective_on, recorded_at, recorded_by, batch_id) "
        "SELECT l.id, l.category, o.category, o.decision_id, s.effective_on, "
        f"{_cast('%s', 'timestamptz')}, {_cast('%s', 'text')}, {_cast('%s', 'bigint')} "
        f"FROM {joined} JOIN services_inventory_serviceline l ON l.id = s.line_id "
        "WHERE l.category IS DISTINCT FROM o.category ORDER BY l.id",
        [bulk.moment(recorded_at), by, batch_id],
    )
    _correct_later_changes(recorded_at, by, batch_id)
    sets = ", ".join(f"{name} = o.{name}" for name in _FACTS)
    differs = " OR ".join(f"l.{name} IS DISTINCT FROM o.{name}" for name in _FACTS)
    bulk.execute(
        f"UPDATE services_inventory_serviceline AS l SET {sets}, category_since = "
        "CASE WHEN l.category IS DISTINCT FROM o.category THEN s.effective_on "
        "ELSE l.category_since END FROM standing_stage s, standing_outcome o "
        f"WHERE o.outcome = s.outcome AND l.id = s.line_id AND ({differs})"
    )
    return changed


def _cast(mark: str, kind: str) -> str:
    """PostgreSQL wants to know a parameter's type in a select list; SQLite doesn't ask."""
    return f"CAST({mark} AS {kind})" if bulk.on_postgresql() else mark


def _correct_later_changes(recorded_at: datetime, by: str, batch_id: int | None) -> None:
    """Repeat a change that is effective before others of its line on their later days.

    So the last change by (effective on, recorded at, id) is always what is now known of a day.
    """
    bulk.execute(
        "INSERT INTO services_inventory_categorychange (line_id, from_category, to_category, "
        "decision_id, effective_on, recorded_at, recorded_by, batch_id) "
        "SELECT DISTINCT l.id, l.category, o.category, o.decision_id, c.effective_on, "
        f"{_cast('%s', 'timestamptz')}, {_cast('%s', 'text')}, {_cast('%s', 'bigint')} "
        "FROM standing_stage s JOIN standing_outcome o ON o.outcome = s.outcome "
        "JOIN services_inventory_serviceline l ON l.id = s.line_id "
        "JOIN services_inventory_categorychange c ON c.line_id = l.id "
        "AND c.effective_on > s.effective_on WHERE l.category IS DISTINCT FROM o.category",
        [bulk.moment(recorded_at), by, batch_id],
    )


def _write_conflicts(conflicts: dict[int, Weighed], recorded_at: datetime) -> None:
    """Open what contradicts itself now, and close what later evidence has settled."""
    staged = bulk.stream(
        "SELECT c.line_id FROM services_inventory_conflict c JOIN standing_stage s "
        "ON s.line_id = c.line_id WHERE c.resolved_at IS NULL"
    )
    open_now = {
        (found.line_id, found.portion): found
        for found in Conflict.objects.filter(
            resolved_at__isnull=True, line_id__in={pk for (pk,) in staged}
        )
    }
    fresh = []
    for line_id, weighed in conflicts.items():
        for conflict in weighed.conflicts:
            if open_now.pop((line_id, conflict.portion.value), None) is None:
                fresh.append(
                    Conflict(
                        line_id=line_id,
                        portion=conflict.portion.value,
                        sentence=conflict.reason,
                        evidence_ids=list(conflict.record_ids),
                        opened_at=recorded_at,
                    )
                )
    Conflict.objects.bulk_create(fresh, batch_size=2000)
    for settled in open_now.values():
        settled.resolved_at = recorded_at
        settled.resolved_by = "later evidence"
        settled.reason = "Evidence recorded later leaves no contradiction."
    Conflict.objects.bulk_update(
        open_now.values(), ["resolved_at", "resolved_by", "reason"], batch_size=500
    )
