"""What many tests begin with, built once by the program and then put back row by row.

    @pytest.fixture
    @kept
    def lines():
        utility()
        return town()

The first test builds it, with all that this writes beside; each later test finds the same rows,
the same files and a copy of what was returned. It is built anew where something is on record
already, as another row may then have its id.
"""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from functools import cache, wraps
from pathlib import Path

from django.conf import settings
from django.db import connection

from services_inventory.bulk import on_postgresql


@dataclass(frozen=True)
class Kept:
    """What building wrote: rows by table, content and mode of files by path; what it returned."""

    rows: dict[str, list | str]
    files: dict[str, tuple[bytes, int]]
    returned: object


def kept(build: Callable) -> Callable:
    """Return a function that gives what `build` gives on an empty record, built once a run."""
    found: list[Kept] = []

    @wraps(build)
    def given(*args, **kwargs):
        if _holds_rows(tables()):
            return build(*args, **kwargs)
        if not found:
            made = build(*args, **kwargs)
            found.append(Kept(_rows(), _files(), deepcopy(made)))
            return made
        for table, rows in found[0].rows.items():
            _put(table, rows)
        for name, (content, mode) in found[0].files.items():
            path = Path(settings.DATA_DIR, name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
            path.chmod(mode)
        return deepcopy(found[0].returned)

    return given


@cache
def tables() -> list[str]:
    """Return the tables that are empty before the first test; asked then, and remembered."""
    names = connection.introspection.django_table_names(only_existing=True)
    return [name for name in names if not _holds_rows([name])]


def _holds_rows(names: list[str]) -> bool:
    any_row = " OR ".join(f'EXISTS (SELECT 1 FROM "{name}")' for name in names)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {any_row}")
        return bool(cursor.fetchone()[0])


def _rows() -> dict[str, list | str]:
    """Return the rows of every table that has some, as its database keeps them."""
    found = {}
    with connection.cursor() as cursor:
        for name in tables():
            if on_postgresql():
                cursor.execute(f'SELECT json_agg(kept)::text FROM "{name}" AS kept')
                found[name] = cursor.fetchone()[0]
            else:
                cursor.execute(f'SELECT * FROM "{name}" LIMIT 0')
                columns = ", ".join(f'+"{column[0]}"' for column in cursor.description)
                found[name] = connection.connection.execute(
                    f'SELECT {columns} FROM "{name}"'
                ).fetchall()
    return {name: rows for name, rows in found.items() if rows}


def _put(table: str, rows: list | str) -> None:
    """Write rows beneath what notes the program's own writes: its notes are among the rows."""
    if on_postgresql():
        read = f'json_populate_recordset(NULL::"{table}", %s::json)'
        connection.connection.execute(f'INSERT INTO "{table}" SELECT * FROM {read}', [rows])
    else:
        blanks = ", ".join("?" * len(rows[0]))
        connection.connection.executemany(f'INSERT INTO "{table}" VALUES ({blanks})', rows)


def _files() -> dict[str, tuple[bytes, int]]:
    folder = Path(settings.DATA_DIR)
    return {
        str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mode)
        for path in folder.rglob("*") if path.is_file()
    }  # fmt: skip
