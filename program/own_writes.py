"""Which rows the program itself writes: noted on its own connections, beside each statement.

A row that is kept up to date may change every day. What is changed by any other hand than the
program's leaves no note, and so differs from the digest that was taken of it
(`queries/row_digests.py`).
"""

import re
from collections.abc import Iterator, Sequence
from functools import cache

from django.db.backends.signals import connection_created

from services_inventory import bulk
from services_inventory.read_from import PRIMARY, reading_from

_WRITES = re.compile(r'\s*(?:UPDATE|DELETE FROM|INSERT INTO)\s+"?(\w+)"?', re.IGNORECASE)
_MARKS = re.compile(
    r"'[^']*'|\(|\)|\bSET\b|(?<!DISTINCT )\bFROM\b|\bWHERE\b|\bDO UPDATE\b|,", re.IGNORECASE
)
_ALIAS = re.compile(r"UPDATE\s+\S+\s+AS\s+(\w+)", re.IGNORECASE)
MOST = 2_000  # rows noted one by one; beyond that the whole table is


def note_own_writes() -> None:
    """Note from now on what is written on connections of this process."""
    connection_created.connect(_begun, dispatch_uid="program.own_writes")


def _begun(sender, connection, **_) -> None:
    if _noted not in connection.execute_wrappers:
        connection.execute_wrappers.append(_noted)


def _noted(execute, sql, params, many, context):
    if sql[:7].upper() in ("UPDATE ", "DELETE ", "INSERT "):
        found = _WRITES.match(sql)
        table = found.group(1) if found else ""
        if table in _watched():
            with reading_from(PRIMARY):
                _note(table, sql, params, many)
    return execute(sql, params, many, context)


@cache
def _watched() -> dict[str, tuple[str, frozenset[str]]]:
    from .queries.row_digests import watched_columns  # when the first row is written

    return watched_columns()


def _note(table: str, sql: str, params, many: bool) -> None:
    key, columns = _watched()[table]
    parts = _clauses(sql)
    if sql[:6].upper() == "INSERT":
        if "DO UPDATE" in parts:
            _write(table, [None])
        return
    if "SET" in parts and not columns & set(_names(sql, parts)):
        return
    one_by_one = "WHERE" in parts and not many
    _write(table, _ids(table, key, sql, params, parts) if one_by_one else [None])


def _clauses(sql: str) -> dict[str, list[int]]:
    """Return where each clause of a statement begins, those within brackets left out."""
    depth, found = 0, {}
    begin = 7 if sql[:6].upper() == "UPDATE" else 12  # the FROM of DELETE FROM is none
    for mark in _MARKS.finditer(sql, begin):
        said = mark.group().upper()
        depth += {"(": 1, ")": -1}.get(said, 0)
        if depth == 0 and said not in ("(", ")"):
            found.setdefault(said, []).append(mark.end() if said == "SET" else mark.start())
    return found


def _names(sql: str, parts: dict[str, list[int]]) -> Iterator[str]:
    """Yield the columns that an UPDATE sets."""
    begin = parts["SET"][0]
    end = min([*parts.get("FROM", ()), *parts.get("WHERE", ()), len(sql)])
    for start in [begin, *(comma + 1 for comma in parts.get(",", ()) if begin < comma < end)]:
        yield sql[start:end].partition("=")[0].strip().strip('"')


def _ids(table: str, key: str, sql: str, params: Sequence | None, parts: dict) -> list[int | None]:
    """Return the ids of the rows that a statement is about to write, or None if they are many."""
    where = parts["WHERE"][0]
    begin = min(*parts.get("FROM", ()), where, where)
    alias = _ALIAS.match(sql)
    name = alias.group(1) if alias else f'"{table}"'
    others = sql[begin:where].strip()[len("FROM") :]
    source = f'"{table}" AS {name}{"," if others else ""} {others}'
    given = params if params is None else list(params)[sql.count("%s", 0, begin) :]
    statement = f"SELECT {name}.{key} FROM {source} {sql[where:]} LIMIT {MOST + 1}"
    ids = [pk for (pk,) in bulk.fetched(statement, given)]
    return ids if len(ids) <= MOST else [None]


def _write(table: str, ids: Sequence[int | None]) -> None:
    from .models import WrittenRow

    WrittenRow.objects.bulk_create([WrittenRow(table=table, row_id=pk) for pk in ids])
