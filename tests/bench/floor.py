"""The floor that the intake is measured against: the same rows, typed, into one plain table.

csv module to typed tuples to sqlite3 `executemany`, 25 columns, one transaction, two indexes
built afterwards. No check, no matching, no history: what merely storing the rows costs.
"""

import csv
import sqlite3
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from tests.bench.intake_file import HEADER

CHUNK = 20_000


def seconds(source: Path, database: Path) -> float:
    """Load the file into a fresh database and return the seconds that it took."""
    database.unlink(missing_ok=True)
    began = time.perf_counter()
    connection = sqlite3.connect(database, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=NORMAL", "cache_size=-65536"):
        connection.execute(f"PRAGMA {pragma}")
    names = ", ".join(f"c{at}" for at in range(len(HEADER)))
    connection.execute(f"CREATE TABLE line (id INTEGER PRIMARY KEY, {names})")
    connection.execute("BEGIN")
    rows = _typed(source)
    insert = f"INSERT INTO line ({names}) VALUES ({', '.join('?' * len(HEADER))})"
    while chunk := list(islice(rows, CHUNK)):
        connection.executemany(insert, chunk)
    connection.execute("CREATE INDEX line_id ON line (c0)")
    connection.execute("CREATE INDEX line_material ON line (c7, c14)")
    connection.execute("COMMIT")
    connection.close()
    return time.perf_counter() - began


def _typed(source: Path) -> Iterator[list]:
    with source.open(newline="", encoding="utf-8") as file:
        reader = csv.reader(file)
        next(reader)
        for cells in reader:
            cells[5], cells[6] = float(cells[5]), float(cells[6])
            for at in (9, 16, 23):
                cells[at] = int(cells[at]) if cells[at] else None
            yield cells
