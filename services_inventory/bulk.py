"""Set-based reads and writes: staging rows, then a few statements.

The only module with SQL of its own, and with what differs between SQLite (`executemany` into
a temporary table) and PostgreSQL (`COPY`). Everything else goes through the ORM.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from itertools import islice
from operator import itemgetter

from django.core.management.color import no_style
from django.db import DatabaseError, OperationalError, transaction
from django.db.backends.signals import connection_created

from .read_from import connection

CHUNK = 20_000
PATIENCE_S = 2


def on_postgresql() -> bool:
    """Tell which of the two engines this is."""
    return connection.vendor == "postgresql"


def keep_little() -> None:
    """Let connections of this process, which has many, keep 8 MB of SQLite's pages each."""
    connection_created.connect(_keep_little, dispatch_uid="services_inventory.keep_little")


def _keep_little(sender, connection, **_) -> None:
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA cache_size=-8192")


def stage(name: str, columns: Sequence[tuple[str, str]], rows: Iterable[Sequence]) -> int:
    """Put rows into a fresh temporary table; return their number.

    Parameters
    ----------
    name : the table's name, a plain identifier of ours
    columns : (name, type) pairs; types are INTEGER, KEY (a unique integer that rows are found
        by), REAL, TEXT, DATE, BOOLEAN
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
        kinds = {"INTEGER": "bigint", "REAL": "double precision", "KEY": "bigint PRIMARY KEY"}
        return kinds.get(kind, kind.lower())
    kinds = {"DATE": "TEXT", "BOOLEAN": "INTEGER", "KEY": "INTEGER PRIMARY KEY"}
    return kinds.get(kind, kind)


def _insert(cursor, name: str, columns: Sequence[str], rows: Iterable[Sequence]) -> int:
    raw = connection.connection.cursor()
    iterator, number = iter(rows), 0
    while chunk := list(islice(iterator, CHUNK)):
        # Giving a statement its values costs more than storing them, so blanks are written in.
        blanks = _blanks(chunk)
        marks = ", ".join(blanks.get(at, "?") for at in range(len(columns)))
        given = itemgetter(*(at for at in range(len(columns)) if at not in blanks))
        statement = f"INSERT INTO {name} ({', '.join(columns)}) VALUES ({marks})"
        raw.executemany(statement, map(given, chunk) if blanks else chunk)
        number += len(chunk)
    raw.close()
    return number


def _blanks(chunk: list[Sequence]) -> dict[int, str]:
    """Say for each column that is empty in all of these rows what stands in it: NULL or ''."""
    first, last = chunk[0], chunk[-1]
    empty = [at for at, value in enumerate(first) if value in (None, "") and last[at] == value]
    blanks = {
        at: "''" if first[at] == "" else "NULL"
        for at in empty
        if [row[at] for row in chunk].count(first[at]) == len(chunk)
    }
    return blanks if len(blanks) < len(first) - 1 else {}


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


def fetched(statement: str, parameters: Sequence | None = ()) -> list[tuple]:
    """Return the few rows of a query."""
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        return cursor.fetchall()


def fetched_often(statement: str, parameters: Sequence = ()) -> list[tuple]:
    """Return the few rows of a query that is asked at nearly every request.

    PostgreSQL plans it once for each connection: of a question with many parts, finding out how
    to answer costs ten times what answering does. SQLite's driver keeps statements anyway.
    """
    with connection.cursor() as cursor:
        if on_postgresql():
            import psycopg

            connection.connection.prepare_threshold = 0
            # Django's own writes the parameters into the text, which is then another each time.
            cursor.cursor = psycopg.Cursor(connection.connection)
        cursor.execute(statement, parameters)
        return cursor.fetchall()


def one_view() -> None:
    """Let a transaction that just began see the record as it is now, whatever others write.

    On SQLite each does so anyway; within another transaction that one has begun already.
    """
    if on_postgresql() and not connection.savepoint_ids:
        execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")


def holds_are_known() -> bool:
    """Tell whether `held` sees who holds a name in another process; else every name is free."""
    return on_postgresql()


@contextmanager
def held(name: str) -> Iterator[bool]:
    """Hold a name among all machines while this lasts; tell whether nobody else held it.

    The server lets go with the connection: a process that was killed holds nothing, and one whose
    machine is gone nothing after the server's own patience. SQLite is one machine's: always True.
    """
    if not holds_are_known():
        yield True
        return
    [(ours,)] = fetched("SELECT pg_try_advisory_lock(hashtextextended(%s, 0))", [name])
    try:
        yield ours
    finally:
        if ours:
            with suppress(DatabaseError):  # the connection broke, and the name went with it
                fetched("SELECT pg_advisory_unlock(hashtextextended(%s, 0))", [name])


def position_written() -> int:
    """Return where the primary's log ends, all that was committed before lying within.

    The end of what is only in its memory: a commit that did not wait for the disk lies within, too.
    """
    return number("SELECT CAST(pg_wal_lsn_diff(pg_current_wal_insert_lsn(), '0/0') AS bigint)")


def position_sent() -> int:
    """Return how far the primary's log is on its disk, from where its replicas get it."""
    return number("SELECT CAST(pg_wal_lsn_diff(pg_current_wal_flush_lsn(), '0/0') AS bigint)")


def position_replayed() -> int:
    """Return how far a replica has come in the primary's log; 0 where it is no replica."""
    return number(
        "SELECT CASE WHEN pg_is_in_recovery()"
        " THEN CAST(pg_wal_lsn_diff(pg_last_wal_replay_lsn(), '0/0') AS bigint) END"
    )


def commits_wait_for_a_replica() -> bool:
    """Tell whether the primary acknowledges nothing that a replica has not got."""
    [(names, how)] = fetched(
        "SELECT current_setting('synchronous_standby_names'), current_setting('synchronous_commit')"
    )
    return bool(names) and how not in ("off", "local")


def number_on(tables: Sequence[type]) -> None:
    """Let new rows be numbered behind those that were written with numbers of their own."""
    for statement in connection.ops.sequence_reset_sql(no_style(), tables):
        execute(statement)


def stream(statement: str, parameters: Sequence = ()) -> Iterator[tuple]:
    """Yield the rows of a query as the driver gives them, in flat memory."""
    for piece in stream_pieces(statement, parameters, CHUNK):
        yield from piece


def stream_pieces(statement: str, parameters: Sequence, size: int) -> Iterator[list[tuple]]:
    """Yield the rows of a query as the driver gives them, so many at a time."""
    with connection.chunked_cursor() as cursor:
        cursor.execute(statement, parameters)
        while rows := cursor.fetchmany(size):
            yield rows


def stream_alone(statement: str, parameters: Sequence, size: int) -> Iterator[list[tuple]]:
    """Yield the rows of a query like `stream_pieces`, while nothing else is asked of the database.

    PostgreSQL then sends rows while the ones before are worked on, and may use every processor;
    another question on this connection before the last row, or the end of reading, is refused.
    """
    if not on_postgresql():
        yield from stream_pieces(statement, parameters, size)
        return
    import psycopg

    at_once = size if psycopg.capabilities.has_stream_chunked() else 1
    with connection.cursor() as cursor, connection.wrap_database_errors:
        # Whoever stops reading midway ends the query, too.
        with closing(cursor.cursor.stream(statement, parameters, size=at_once)) as rows:
            while piece := list(islice(rows, size)):
                yield piece


def among(column: str, values: Sequence[str]) -> tuple[str, list]:
    """Return a condition that a column is one of many texts, with its parameters."""
    if on_postgresql():
        return f"{column} = ANY(%s)", [list(values)]
    return f"{column} IN (SELECT value FROM json_each(%s))", [json.dumps(values)]


def listed(expression: str) -> str:
    """Say the aggregate that writes all values of a whole number one after another, by commas."""
    if on_postgresql():
        return f"string_agg(CAST({expression} AS text), ',')"
    return f"group_concat({expression})"


def drop(*names: str) -> None:
    """Drop temporary tables that are no longer needed."""
    with connection.cursor() as cursor:
        for name in names:
            cursor.execute(f"DROP TABLE IF EXISTS {name}")


def fill(table: str, columns: Sequence[str], rows: Iterable[Sequence]) -> int:
    """Put rows straight into a table of the record; return their number."""
    put = _copy if on_postgresql() else _insert
    with connection.cursor() as cursor:
        return put(cursor.cursor, table, columns, rows)


def fill_lacking(table: str, columns: Sequence[str], rows: Iterable[Sequence]) -> None:
    """Put those rows into a table of the record whose key it lacks."""
    marks = ", ".join(["%s"] * len(columns))
    statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"
    with connection.cursor() as cursor:
        cursor.executemany(f"{statement} ON CONFLICT DO NOTHING", list(rows))


def index(table: str, *columns: str) -> None:
    """Index a staged table, and let PostgreSQL know how large it is."""
    with connection.cursor() as cursor:
        if columns:
            cursor.execute(f"CREATE INDEX {table}_{columns[0]} ON {table} ({', '.join(columns)})")
        if on_postgresql():
            # A tenth of the rows that are usually looked at: how many there are is what matters.
            cursor.execute("SET default_statistics_target = 10")
            cursor.execute(f"ANALYZE {table}")
            cursor.execute("RESET default_statistics_target")


def number(statement: str, parameters: Sequence = ()) -> int:
    """Return the one number that a query gives; nothing counts as 0."""
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        return cursor.fetchone()[0] or 0


def reserve(table: str, count: int) -> int:
    """Set `count` ids of a table aside; return the number before the first of them.

    No id is given twice, though the row that had it may be gone.
    """
    if not on_postgresql():
        given = f"SELECT max(seq) FROM sqlite_sequence WHERE name = '{table}'"
        return max(number(f"SELECT max(id) FROM {table}"), number(given))
    sequence = f"pg_get_serial_sequence('{table}', 'id')"
    return number(f"SELECT setval({sequence}, nextval({sequence}) + {count})") - count - 1


def shut_out_writers(table: str) -> None:
    """Wait for those who write to a table, and let nobody else begin until the transaction ends.

    On SQLite only one may write anyway.
    """
    if on_postgresql():
        execute(f"LOCK TABLE {table} IN SHARE ROW EXCLUSIVE MODE")


def settled_id(table: str) -> int | None:
    """Return the last id of a table below which no row can appear any more; 0 without rows.

    None while somebody has been writing to it for `PATIENCE_S` seconds: others are not kept
    waiting behind a file that is being taken in.
    """
    last = f"SELECT coalesce(max(id), 0) FROM {table}"
    if not on_postgresql():  # rows are numbered in the order in which their writers end
        return number(last)
    try:
        with transaction.atomic():
            execute(f"SET LOCAL lock_timeout = '{PATIENCE_S}s'")
            shut_out_writers(table)
            return number(last)
    except OperationalError:
        return None


def typed(expression: str, kind: str) -> str:
    """Say an expression's type where PostgreSQL has to be told: timestamptz, jsonb, text …."""
    return f"CAST({expression} AS {kind})" if on_postgresql() else expression


@contextmanager
def large_work() -> Iterator[None]:
    """Settle the connection for a large batch: staged rows in a file, so that memory stays flat.

    On SQLite references and closed sets of codes are not checked row by row meanwhile: the
    statements take each from the table it points into, codes are checked where they are staged
    once for many rows, and `check_record` looks at all of them. Inside a transaction that is
    already open (a test's) nothing is changed.
    """
    if on_postgresql() or connection.in_atomic_block:
        yield
        return
    connection.ensure_connection()
    wanted = {"temp_store": 1, "foreign_keys": 0, "ignore_check_constraints": 1, "mmap_size": 0}
    # A database in memory has nothing to map, and answers no row.
    before = {name: was for name in wanted for (was,) in stream(f"PRAGMA {name}")}
    for name in before:
        execute(f"PRAGMA {name}={wanted[name]}")
    try:
        yield
    finally:
        for name, value in before.items():
            execute(f"PRAGMA {name}={value}")


@contextmanager
def snapshot(*, keep: bool = False) -> Iterator[None]:
    """Read the record as it is at one moment, without keeping anybody from writing.

    What is staged inside goes at the end, unless it is kept for a transaction that follows.
    """
    if on_postgresql() or connection.in_atomic_block:
        with transaction.atomic(using=connection.alias):
            yield
        return
    execute("BEGIN DEFERRED")
    ending = "ROLLBACK"
    try:
        yield
        ending = "COMMIT" if keep else ending
    finally:
        execute(ending)


@contextmanager
def one_transaction() -> Iterator[None]:
    """Open a transaction at once where staging one doesn't shut others out: on PostgreSQL.

    On SQLite only one may write, so there the rows are staged before the writing begins.
    """
    if not on_postgresql():
        yield
        return
    with transaction.atomic():
        # Compiling these statements takes longer than it saves; their sorts fit into memory.
        _all(("SET LOCAL jit = off", "SET LOCAL work_mem = '64MB'"))
        yield


@contextmanager
def built_after(*tables: str, first: bool = False, of: Collection[str] = ()) -> Iterator[None]:
    """Build the indexes of these tables once, after the rows are in, and not row by row.

    Of columns `of` only, where they are given.

    Worth it where more rows come than are there. On PostgreSQL readers have to wait meanwhile,
    so there it is done only for the `first` file, when there is nothing yet to read; references
    are then checked as well, all at once as they are put back, and not one by one at the end.
    All of it belongs to the open transaction.
    """
    if not on_postgresql():
        made = [one for one in _indexes(tables) if not of or any(f'"{c}"' in one[1] for c in of)]
        _all(f"DROP INDEX {name}" for name, _ in made)
        yield
        _all(statement for _, statement in made)
        return
    again = _taken_off(tables) if first and tables else []
    yield
    _all(again)


def _all(statements: Iterable[str]) -> None:
    for statement in statements:
        execute(statement)


def _taken_off(tables: Sequence[str]) -> list[str]:
    """Take references and indexes off these tables; return the statements that put them back.

    Where that can't be had, as another owner has the tables or somebody is in them, nothing is
    taken off and nothing returned.
    """
    references = list(stream(_REFERENCES, [list(tables)]))
    indexes = list(stream(_PLAIN_INDEXES, [list(tables)]))
    try:
        with transaction.atomic():
            execute("SET LOCAL lock_timeout = '3s'")
            _all(f"ALTER TABLE {table} DROP CONSTRAINT {name}" for table, name, _ in references)
            _all(f"DROP INDEX {name}" for name, _ in indexes)
    except DatabaseError:
        return []
    execute("SET LOCAL lock_timeout = 0")
    back = [f"ALTER TABLE {table} ADD CONSTRAINT {name} {rule}" for table, name, rule in references]
    return ["SET LOCAL maintenance_work_mem = '128MB'", *(made for _, made in indexes), *back]


_REFERENCES = """
    SELECT conrelid::regclass::text, quote_ident(conname), pg_get_constraintdef(oid)
    FROM pg_constraint WHERE contype = 'f' AND conrelid = ANY(%s::regclass[])
"""
_PLAIN_INDEXES = """
    SELECT indexrelid::regclass::text, pg_get_indexdef(indexrelid) FROM pg_index i
    WHERE indrelid = ANY(%s::regclass[]) AND NOT indisunique
    AND NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid)
"""


def _indexes(tables: Sequence[str]) -> list[tuple[str, str]]:
    named = ", ".join(f"'{table}'" for table in tables)
    return list(
        stream(
            "SELECT '\"' || name || '\"', sql FROM sqlite_master WHERE type = 'index' "
            f"AND sql IS NOT NULL AND sql NOT LIKE 'CREATE UNIQUE%%' AND tbl_name IN ({named})"
        )
    )


def settle_statistics() -> None:
    """Let the planner look at the tables again after much was written."""
    if on_postgresql():
        for table in ("premise", "serviceline", "evidence", "categorychange"):
            execute(f"ANALYZE services_inventory_{table}")
    else:
        execute("PRAGMA analysis_limit=400")
        execute("ANALYZE")
        # Of an empty table nothing is kept, and the planner then takes it for a million rows.
        execute(
            "INSERT INTO sqlite_stat1 (tbl, idx, stat) SELECT name, NULL, '10' FROM sqlite_schema "
            "WHERE type = 'table' AND sql NOT LIKE 'CREATE VIRTUAL%%' AND name NOT LIKE 'sqlite%%' "
            "AND name NOT IN (SELECT tbl FROM sqlite_stat1)"
        )
        execute("ANALYZE sqlite_schema")


def distinct(table: str, column: str) -> Iterator[tuple]:
    """Yield (value,) for each value of an indexed column, in order, by one seek a value.

    Costs as many steps as there are values, however many rows there are. The standard's
    recursive query, equal on both engines.
    """
    return stream(
        f"WITH RECURSIVE found(value) AS (SELECT MIN({column}) FROM {table} UNION ALL "
        f"SELECT (SELECT MIN({column}) FROM {table} WHERE {column} > found.value) FROM found "
        "WHERE found.value IS NOT NULL) SELECT value FROM found WHERE value IS NOT NULL"
    )
