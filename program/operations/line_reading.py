"""The line list of a day read from the record into a spool; a large one by two processes.

Each process reads ranges of ids of its own; the parts are then put behind each other. What was
recorded meanwhile is left out by the moment of knowing, so that both read the same record.
"""

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import repeat
from pathlib import Path

from django.db.models import Max, Min

from program.queries.submission_lines import known_on, line_rows
from program.rules import rules_in_force
from program.submissions.row_spool import RowSpool
from program.submissions.rows import LineRow
from services_inventory.domain.classification import Category
from services_inventory.domain.reporting import Report
from services_inventory.models import ServiceLine

REPORT_EVERY = 5_000
PARTS = 32  # ranges of ids: few enough to cost nothing, many enough to keep both busy to the end


@dataclass(frozen=True)
class Asked:
    """Which line list: as of a day, as known at a moment."""

    as_of: date
    known_at: datetime
    never_had_lead: bool
    pool_freeze_id: int | None


@dataclass
class Tally:
    """What is counted while the lines pass."""

    lines: int = 0
    in_validation: int = 0
    resting: int = 0
    connectors: Counter = field(default_factory=Counter)
    bases: Counter = field(default_factory=Counter)

    def take(self, row) -> None:
        """Count a line."""
        self.lines += 1
        self.connectors[row.connector] += 1
        self.in_validation += row.in_validation_pool == "YES"
        self.resting += row.rests_on_connectors == "YES"
        if row.category == Category.NON_LEAD:
            self.bases[row.system_basis, row.customer_basis] += 1

    def add(self, other: "Tally") -> None:
        """Add what another part counted."""
        self.lines += other.lines
        self.in_validation += other.in_validation
        self.resting += other.resting
        self.connectors += other.connectors
        self.bases += other.bases


def begin_lines(
    spool: RowSpool, asked: Asked, pool: ProcessPoolExecutor | None, report: Report | None = None
) -> Callable[[], Tally]:
    """Have the pool begin to read the line list into a spool.

    Returns what gives the counts made on the way, once all is read; without a pool it reads.
    """
    expected = ServiceLine.objects.count()
    if pool is None:
        return lambda: _read(
            spool, asked, 0, None, report and (lambda done: report(done, expected))
        )
    ids = ServiceLine.objects.aggregate(first=Min("id"), last=Max("id"))
    before, last = ids["first"] - 1, ids["last"]
    ends = [before + (last - before) * part // PARTS for part in range(PARTS + 1)]
    paths = [spool.path.with_suffix(f".part{part}") for part in range(PARTS)]
    read = pool.map(_read_part, paths, repeat(asked), ends[:-1], ends[1:])

    def whole() -> Tally:
        tally = Tally()
        for path, part in zip(paths, read, strict=True):
            spool.append(path)
            tally.add(part)
            if report:
                report(min(tally.lines, expected), expected)
        spool.count = tally.lines
        return tally

    return whole


def _read_part(path: Path, asked: Asked, after: int, to: int) -> Tally:
    return _read(RowSpool(path, LineRow), asked, after, to)


def _read(
    spool: RowSpool, asked: Asked, after: int, to: int | None,
    tell: Callable[[int], None] | None = None,
) -> Tally:  # fmt: skip
    known = known_on(
        asked.as_of, asked.known_at, rules_in_force(asked.known_at), asked.never_had_lead,
        asked.pool_freeze_id,
    )  # fmt: skip
    tally = Tally()
    for row in spool.take(line_rows(known, after, to)):
        tally.take(row)
        if tell and tally.lines % REPORT_EVERY == 0:
            tell(tally.lines)
    return tally
