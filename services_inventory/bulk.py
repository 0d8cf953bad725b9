"""Set-based reads and writes: staging rows, then a few statements.

The only module with SQL of its own, and with what differs between SQLite (`executemany` into
a temporary table) and PostgreSQL (`COPY`). Everything else goes through the ORM.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice

from django.db import connection

CHUNK = 20_000


def on_postgresql() -> bool:
    """Tell which of the two engines this is."""
    return connection.vendor == "postgresql"


def stage(name: str, columns: Sequence[tuple[str, str]], rows: Iterable[Sequence]) -> int:
    """Put rows into a fresh temporary table; return their number.

    Parameters
    ----------
    name : the table's name, a plain identifier of ours
    columns : (name, type) pairs; types are INTEGER, REAL, TEXT, DATE, BOOLEAN
    rows : tuples in the order of the columns, consumed as they come
    """
    described = ", ".join(f"{column} {_type(kind)}" for column, kind in columns)
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TABLE IF EXISTS {name}")
        end = " ON COMMIT DROP" if on_postgresql() and connection.in_atomic_block else ""
        cursor.execute(f"CREATE TEMPORARY TABLE {name} ({described}){end}")
        fill = _copy if on_postgresql() else _insert
        return fill(cursor.cursor, name, [column for column, _ in columns], rows)


def _type(kind: str) -> str:
    if on_postgresql():
        return {"INTEGER": "bigint", "REAL": "double precision"}.get(kind, kind.lower())
    return {"DATE": "TEXT", "BOOLEAN": "INTEGER"}.get(kind, kind)


def _insert(cursor, name: str, columns: Sequence[str], rows: Iterable[Sequence]) -> int:
    marks = ", ".join("?" * len(columns))
    statement = f"INSERT INTO {name} ({', '.join(columns)}) VALUES ({marks})"
    raw = connection.connection.cursor()
    iterator, number = iter(rows), 0
    while chunk := list(islice(iterator, CHUNK)):
        raw.executemany(statement, chunk)
        number += len(chunk)
    raw.close()
    return number


def _copy(cursor, name: str, columns: Sequence[str], rows: Iterable[Sequence]) -> int:
    iterator, number = iter(rows), 0
    # The rows may come from a query on this same connection, which a COPY in progress would
    # block for ever: so each chunk is fetched before its COPY begins.
    while chunk := list(islice(iterator, CHUNK)):
        with cursor.copy(f"COPY {name} ({', '.join(columns)}) FROM STDIN") as copy:
            for row in chunk:
                copy.write_row(row)
        number += len(chunk)
    return number


def moment(value: datetime) -> datetime | str:
    """Return an aware moment as this engine's driver stores it."""
    return connection.ops.adapt_datetimefield_value(value)


def execute(statement: str, parameters: Sequence = ()) -> int:
    """Run one statement; return the number of rows it touched."""
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        return cursor.rowcount


def stream(statement: str, parameters: Sequence = ()) -> Iterator[tuple]:
    """Yield the rows of a query as the driver gives them, in flat memory."""
    with connection.chunked_cursor() as cursor:
        cursor.execute(statement, parameters)
        while rows := cursor.fetchmany(CHUNK):
            yield from rows


def drop(*names: str) -> None:
    """Drop temporary tables that are no longer needed."""
    with connection.cursor() as cursor:
        for name in names:
            cursor.execute(f"DROP TABLE IF EXISTS {name}")
