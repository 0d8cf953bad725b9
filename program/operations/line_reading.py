"""The line list of a day read from the record into a spool; a large one by two processes.

Each process reads ranges of ids of its own; the parts are then put behind each other. What was
recorded meanwhile is left out by the moment of knowing, so that both read the same record.
"""

import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import repeat
from pathlib import Path

from django.db import connection
from django.db.models import Max

from program.queries.submission_lines import known_on, line_rows
from program.rules import rules_in_force
from program.submissions.row_spool import RowSpool
from program.submissions.rows import LineRow
from program.submissions.side_by_side import FROM_LINES, pool_of_two
from services_inventory.domain.classification import Category
from services_inventory.models import ServiceLine

REPORT_EVERY = 5_000
PARTS = 32  # ranges of ids: few enough to cost nothing, many enough to keep both busy to the end

Report = Callable[[int, int], None]


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


def read_lines(spool: RowSpool, asked: Asked, report: Report | None = None) -> Tally:
    """Read the line list into a spool; return what was counted on the way."""
    expected = ServiceLine.objects.count()
    tally = Tally()
    for part in _parts(spool, asked, expected, report):
        tally.add(part)
        if report:
            report(min(tally.lines, expected), expected)
    spool.count = tally.lines
    return tally


def _parts(spool: RowSpool, asked: Asked, expected: int, report: Report | None) -> Iterator[Tally]:
    if not _may_share(expected):
        yield _read(spool, asked, 0, None, report and (lambda done: report(done, expected)))
        return
    last = ServiceLine.objects.aggregate(last=Max("id"))["last"]
    ends = [last * part // PARTS for part in range(PARTS + 1)]
    paths = [spool.path.with_suffix(f".part{part}") for part in range(PARTS)]
    with pool_of_two(str(connection.settings_dict["NAME"])) as pool:
        read = pool.map(_read_part, paths, repeat(asked), ends[:-1], ends[1:])
        for path, tally in zip(paths, read, strict=True):
            with open(spool.path, "ab") as whole, open(path, "rb") as part:
                shutil.copyfileobj(part, whole)
            path.unlink()
            yield tally


def _may_share(lines: int) -> bool:
    """Whether another process sees the same record: not what this one has not committed yet."""
    in_memory = "memory" in str(connection.settings_dict["NAME"])
    return lines >= FROM_LINES and not in_memory and not connection.in_atomic_block


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
