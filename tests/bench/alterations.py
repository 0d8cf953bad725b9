"""Values of a record altered by hand, one at a time: how many the record's own checks see.

python -m tests.bench alterations --count 200 --lines 200
"""

import argparse
import os
import random
import sys
import tempfile
from collections import Counter
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path


def main() -> None:
    """Build a town, seal it, alter it; print a row for each table; end with 1 if one was missed."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--lines", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"DATA_DIR": folder, "DATABASE_URL": "", "SECRET_KEY": "-"}
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
        import django

        django.setup()
        _build(given.lines)
        if _seen():
            raise SystemExit("Something is seen in a record that nobody altered.")
        tried, seen, missed = _alter(given.count, random.Random(given.seed), Path(folder))
    print("| table | altered | seen | not seen |\n|---|---|---|---|")
    for name in sorted(tried):
        columns = ", ".join(sorted(missed.get(name, ())))
        print(f"| {name} | {tried[name]} | {seen[name]} | {columns} |")
    print(f"| all | {tried.total()} | {seen.total()} | |")
    sys.exit(tried != seen)


def _build(lines: int) -> None:
    from django.core.management import call_command

    from fixtures.demo import build_demo
    from program.clock import now
    from program.operations.row_digests import row_digests_take
    from program.operations.sealing import SETTLED, record_seal

    call_command("migrate", verbosity=0)
    build_demo(say=lambda text: None, report=lambda done, total: None, lines=lines)
    later = now() + 2 * SETTLED
    row_digests_take(at=later)
    record_seal(at=later)


def _alter(count: int, chance: random.Random, folder: Path):
    from django.apps import apps

    tables = [
        table
        for app in ("services_inventory", "replacements", "program")
        for table in apps.get_app_config(app).get_models(include_auto_created=True)
        if table._base_manager.exists()
    ]
    tried, seen, missed = Counter(), Counter(), {}
    while tried.total() < count:
        if chance.random() < 0.1:
            name, column, found = "a file", *_file_altered(folder, chance)
        else:
            table = chance.choice(tables)
            name, (column, found) = table._meta.label, _value_altered(table, chance)
        if not column:
            continue
        tried[name] += 1
        seen[name] += found
        if not found:
            missed.setdefault(name, set()).add(column)
    return tried, seen, missed


def _seen() -> bool:
    from program.clock import now
    from services_inventory.operations.restate import standings_compare
    from services_inventory.queries.checks import checks

    try:
        if any(sentence for check in checks() for sentence in check()):
            return True
        return standings_compare(recorded_at=now())["differences"] > 0
    except Exception:
        return True  # it does not pass unseen


def _value_altered(table, chance: random.Random) -> tuple[str, bool]:
    """Write another value into one column of one row by hand; take it back afterwards."""
    from django.db import connection, transaction

    pk = chance.choice(list(table._base_manager.values_list("pk", flat=True)[:5_000]))
    field = chance.choice([f for f in table._meta.concrete_fields if not f.primary_key])
    was = table._base_manager.filter(pk=pk).values_list(field.attname, flat=True).get()
    other = _other(was, field)
    try:
        with transaction.atomic(), connection.constraint_checks_disabled():
            with _another_hand(connection):
                table._base_manager.filter(pk=pk).update(**{field.attname: other})
            found = _seen()
            transaction.set_rollback(True)
    except Exception as error:
        if "constraint" in str(error).lower():
            return "", False
        raise
    return field.attname, found


@contextmanager
def _another_hand(connection):
    """Write as somebody does who opened the database without the program."""
    noted, connection.execute_wrappers[:] = [*connection.execute_wrappers], []
    try:
        yield
    finally:
        connection.execute_wrappers[:] = noted


def _other(was, field):
    """Return another value of the same kind."""
    if isinstance(was, bool):
        return not was
    if isinstance(was, (int, float, Decimal)):
        return was + 1
    if isinstance(was, (date, datetime)):
        return was + timedelta(days=1)
    if isinstance(was, bytes | memoryview):
        return bytes(was)[:-1] + b"x"
    if isinstance(was, dict):
        return was | {"altered": 1}
    if isinstance(was, list):
        return [*was, "altered"]
    if was:
        return was[:-1] + ("x" if was[-1] != "x" else "y")
    return {"DateField": date(2030, 1, 1), "DateTimeField": datetime(2030, 1, 1).astimezone(),
            "CharField": "x", "TextField": "x"}.get(field.get_internal_type(), 1)  # fmt: skip


def _file_altered(folder: Path, chance: random.Random) -> tuple[str, bool]:
    aside = {"demo-files"}  # the town's files before they came; the record keeps its own copies
    kept = [path for path in folder.rglob("*") if path.is_file() and path.stat().st_size
            and "sqlite" not in path.name and not aside & {*path.parts}]  # fmt: skip
    path = chance.choice(kept)
    content = path.read_bytes()
    path.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    try:
        return str(path.relative_to(folder).parent.parts[0:1]), _seen()
    finally:
        path.write_bytes(content)


if __name__ == "__main__":
    main()
