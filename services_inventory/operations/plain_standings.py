"""Standings of the many plain lines at once, inside the database.

A line is plain when each piece of its evidence has a content key (so it names no place and takes
nothing back), none is a replacement, and there is at most one a portion and era. Such evidence
reduces, piece by piece, to one of a few hundred facts, and a line's standing depends only on
which facts it has. The database adds up the facts' codes line by line, and each distinct sum
is weighed once. All other lines are read and weighed one by one.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from operator import itemgetter

from .. import bulk
from ..domain.evidence import EvidenceRecord, signature
from ..statements import Alike

BITS = 11  # of a code a slot; five slots fit a signed number of 64 bits
MOST_FACTS = (1 << BITS) - 1
SLOTS = {
    ("SYSTEM", "NOW"): 0,
    ("CUSTOMER", "NOW"): 1,
    ("CONNECTOR", "NOW"): 2,
    ("SYSTEM", "BEFORE"): 3,
    ("CUSTOMER", "BEFORE"): 4,
}
OUT = -1
TELLING = (
    "portion", "era", "material", "basis", "points_seen", "installed_on", "installed_year",
    "diameter_in",
)  # fmt: skip
EVIDENCE = "services_inventory_evidence"
LINE = "services_inventory_serviceline"


def stage_plain(
    *,
    weigher,
    out_of_inventory: int,
    record_of: Callable[[Sequence], EvidenceRecord],
    columns: Sequence[str],
    lines: str,
    gone: str,
    day: date,
) -> list[int]:
    """Put the standing of plain lines into `standing_stage`; return the ids of the others.

    Parameters
    ----------
    weigher : weighs records and numbers outcomes
    out_of_inventory : number of the outcome of a line whose only file was taken back
    record_of, columns : how an evidence row becomes a record
    lines : a staged table of line ids, or the empty text for all lines
    gone : ids of withdrawn batches, separated by commas; may be empty
    day : the day a change takes effect
    """
    facts = _Facts(weigher, columns)
    bulk.stage(
        "plain_fact",
        [("content_key", "KEY"), ("code", "INTEGER"), ("mask", "INTEGER")],
        facts.rows(_examples(lines, columns), record_of),
    )
    bulk.index("plain_fact")
    _add_up(lines, gone)
    codes = [(OUT, out_of_inventory), *facts.outcomes(_codes())]
    bulk.stage("plain_outcome", [("code", "KEY"), ("outcome", "INTEGER")], codes)
    bulk.index("plain_outcome")
    effective = bulk.typed(f"'{day.isoformat()}'", "date")
    bulk.execute(
        "INSERT INTO standing_stage (line_id, outcome, effective_on) "
        f"SELECT p.line_id, o.outcome, {effective} FROM plain_line p CROSS JOIN plain_outcome o "
        "WHERE p.plain = 1 AND o.code = p.code"
    )
    others = [pk for (pk,) in bulk.stream("SELECT line_id FROM plain_line WHERE plain = 0")]
    bulk.drop("plain_fact", "plain_line", "plain_outcome")
    return others


def _examples(lines: str, columns: Sequence[str]) -> Iterator[tuple]:
    """Yield (content key, evidence columns …) of one row of each content."""
    among = f" JOIN {lines} s ON s.id = e.line_id" if lines else ""
    bulk.stage("plain_example", [("content_key", "KEY"), ("id", "INTEGER")], ())
    # Keys met before are passed over, which costs a third of sorting all of them.
    bulk.execute(
        f"INSERT INTO plain_example (content_key, id) SELECT e.content_key, e.id FROM {EVIDENCE} e"
        f"{among} WHERE e.content_key IS NOT NULL ON CONFLICT DO NOTHING"
    )
    names = ", ".join(f"e.{name}" for name in columns)
    yield from list(
        bulk.stream(
            f"SELECT x.content_key, {names} FROM plain_example x CROSS JOIN {EVIDENCE} e "
            "WHERE e.id = x.id"
        )
    )
    bulk.drop("plain_example")


class _Facts:
    """Facts numbered slot by slot, each with a record that stands for all that reduce to it."""

    def __init__(self, weigher, columns: Sequence[str]):
        self.weigher = weigher
        self.telling = itemgetter(*(columns.index(name) for name in TELLING))
        self.examples: list[list[EvidenceRecord]] = [[] for _ in SLOTS]
        self._numbers: list[dict] = [{} for _ in SLOTS]

    def rows(self, examples: Iterator[tuple], record_of) -> Iterator[tuple]:
        """Yield (content key, code, mask); what is not plain is left out."""
        known: dict[tuple, tuple[int, int] | None] = {}
        alike = Alike(self.weigher.policy)
        for content_key, *values in examples:
            key = alike.key(*self.telling(values))
            if key not in known:
                known[key] = self._coded(record_of(values))
            if known[key]:
                yield content_key, *known[key]

    def _coded(self, record: EvidenceRecord) -> tuple[int, int] | None:
        """The code and mask of a piece of evidence, None where it is not plain."""
        slot = SLOTS.get((record.portion.value, record.era.value))
        if slot is None:
            return None
        fact = signature([record], self.weigher.policy).facts
        numbers = self._numbers[slot]
        if fact and fact[0].replacement or len(numbers) == MOST_FACTS:
            return None
        if fact not in numbers:
            numbers[fact] = len(numbers) + 1
            self.examples[slot].append(record)
        return numbers[fact] << (BITS * slot), 1 << (4 * slot)

    def outcomes(self, codes: Iterator[int]) -> Iterator[tuple[int, int]]:
        """Yield (code, outcome number)."""
        for code in codes:
            records = []
            for slot, examples in enumerate(self.examples):
                number = code >> (BITS * slot) & MOST_FACTS
                if number:
                    records.append(examples[number - 1])
            yield code, self.weigher.weigh(records)[0]


def _add_up(lines: str, gone: str) -> None:
    """Stage for each line the sum of its facts' codes, and whether the line is plain."""
    alive = f" AND (e.batch_id IS NULL OR e.batch_id NOT IN ({gone}))" if gone else ""
    born_of_gone = f"CASE WHEN max(l.batch_id) IN ({gone}) THEN 1 ELSE 0 END" if gone else "0"
    among = f" JOIN {lines} s ON s.id = l.id" if lines else ""
    twice = " OR ".join(f"m / {1 << (4 * slot)} %% 16 > 1" for slot in range(len(SLOTS)))
    kinds = [("line_id", "INTEGER"), ("code", "INTEGER"), ("plain", "INTEGER")]
    bulk.stage("plain_line", kinds, ())
    bulk.execute(
        "INSERT INTO plain_line (line_id, code, plain) SELECT id, "
        f"CASE WHEN n = 0 AND born_of_gone = 1 THEN {OUT} ELSE c END, "
        f"CASE WHEN n <> known OR n > 15 OR {twice} THEN 0 ELSE 1 END FROM ("
        "SELECT l.id, count(e.line_id) AS n, count(f.content_key) AS known, "
        f"{_whole('sum(f.code)')} AS c, {_whole('sum(f.mask)')} AS m, "
        f"{born_of_gone} AS born_of_gone FROM {LINE} l{among} "
        f"LEFT JOIN {EVIDENCE} e ON e.line_id = l.id{alive} "
        "LEFT JOIN plain_fact f ON f.content_key = e.content_key GROUP BY l.id) t"
    )
    bulk.index("plain_line")


def _whole(total: str) -> str:
    return f"CAST(COALESCE({total}, 0) AS bigint)"


def _codes() -> Iterator[int]:
    rows = bulk.stream("SELECT DISTINCT code FROM plain_line WHERE plain = 1 AND code >= 0")
    yield from [code for (code,) in rows]
