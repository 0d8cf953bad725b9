"""What a record costs after twelve years, against the same lines at a tenth of the history.

    DATABASE_URL=postgresql://NAME@HOST:PORT/growth python -m tests.bench growth --lines 1000000

Beside the database that is named, two are made, `…_small` and `…_large`, and used again by a later
run in the same folder. A first file gives every line; three in four have a statement. What came
later is written by a few statements of SQL: what files and people said again of what was known,
documents, and lines that changed category and changed back, the last tenth of it in the small one.
Nothing of today differs, so that only the depth of the history does. It is sealed by the program.

Compared are processor time (web process, its children, the sessions of the database) and the pages
of the database that were touched.
"""

import argparse
import csv
import os
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from threading import Event, Thread

from tests.bench.processes import in_process, run_step
from tests.bench.rows import machine, p50_p95

BEGAN, ENDS = date(2014, 12, 1), date(2026, 11, 28)
DAYS = (ENDS - BEGAN).days
# A line: statements, changes back and forth, documents; of the small one, and of the large.
SIZES = {"small": (1.0, 0.1, 0.1), "large": (10.0, 1.0, 1.0)}
OF_DAYS = {"small": 0.1, "large": 1.0}  # the last part of the twelve years
MUST = 1.5
FILES = 100  # small files that all documents share
PAGES = (
    "list, first page", "list, from anywhere", "list by address, page after page",
    "list, lead only", "list, address typed", "a line", "counts, today", "counts, a past day",
)  # fmt: skip
GIVEN = (
    "location id", "address", "unit", "city", "postcode", "latitude", "longitude",
    "system side material", "system side basis", "premise type",
)  # fmt: skip


def main() -> None:
    """Build both, measure each, print the table."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--lines", type=int, default=100_000)
    options.add_argument("--keep", type=Path, help="a folder: the records are made once and kept")
    options.add_argument("--only", default="", help="what is measured, by parts of names")
    given = options.parse_args()
    url = os.environ.get("DATABASE_URL", "")
    if not url.startswith("postgres"):
        raise SystemExit("Name an address of PostgreSQL in DATABASE_URL; two databases are made.")
    with tempfile.TemporaryDirectory(prefix="bench-") as scratch:
        folder = given.keep or Path(scratch)
        urls = {size: f"{url}_{size}" for size in SIZES}
        if made(url, "small"):
            prepared("base", folder / "small", given.lines, urls["small"])
        if made(url, "large", template="small"):
            shutil.copytree(folder / "small", folder / "large", dirs_exist_ok=True)
            prepared("history", folder / "large", "large", urls["large"])
            prepared("history", folder / "small", "small", urls["small"])
        found = {
            size: in_process(
                __spec__.name, "measure", folder / size, given.only, database=urls[size]
            )
            for size in SIZES
        }
    print("\n".join(table(found)))


def prepared(step: str, folder: Path, what, url: str) -> None:
    """Run a step of the making over a database."""
    folder.mkdir(parents=True, exist_ok=True)
    in_process(__spec__.name, step, folder, what, database=url)


def made(url: str, size: str, template: str = "") -> bool:
    """Create the database of a size; False where it is there already."""
    import psycopg

    server, _, name = url.rpartition("/")
    with psycopg.connect(f"{server}/postgres", autocommit=True) as session:
        named = f"{name}_{size}"
        if session.execute("SELECT 1 FROM pg_database WHERE datname = %s", [named]).fetchone():
            return False
        of = f" TEMPLATE {name}_{template}" if template else ""
        session.execute(f"CREATE DATABASE {named}{of}")
        # What several processes of the server do together could not be told from other work.
        session.execute(f"ALTER DATABASE {named} SET max_parallel_workers_per_gather = 0")
    return True


def table(found: dict[str, dict]) -> list[str]:
    """Return the lines of the table."""
    small, large = found["small"], found["large"]
    rows = [
        f"{machine('')}. {small['database']}, one session at a time, no parallel workers.",
        "",
        "| record | " + " | ".join(small["sizes"]) + " |",
        "|---|" + "---|" * len(small["sizes"]),
    ]
    for size in SIZES:
        cells = " | ".join(f"{number:,}" for number in found[size]["sizes"].values())
        rows.append(f"| {size} | {cells} |")
    rows += [
        "",
        "| work | small, processor s | large | ratio | pages touched, small | large | must | "
        "reached |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name, (least, pages) in small["costs"].items():
        most, more = large["costs"][name]
        ratio = most / least
        must = "" if name.startswith("(") else f"{MUST}"
        reached = ("yes" if ratio <= MUST else "missed") if must else ""
        rows.append(
            f"| {name} | {least:.4g} | {most:.4g} | {ratio:.2f} | {pages:,} | {more:,} | {must} "
            f"| {reached} |"
        )
    return rows


# What is made.


def _step_base(folder: Path, lines: str) -> dict:
    """Take in a first file, as one would, and let it have come twelve years ago."""
    from django.core.management import call_command

    from program.models import Utility
    from services_inventory import bulk
    from tests.bench import intake_file, inventory

    call_command("migrate", verbosity=0)
    Utility.objects.create(name="Quillwater", pwsid="ZZ0000001", state="ZZ", connections=int(lines))
    path = folder / "lines.csv"
    at = [intake_file.HEADER.index(name) for name in GIVEN]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(GIVEN)
        for row in intake_file.rows(int(lines)):
            cells = [row[n] for n in at]
            cells[-2] = cells[-2] if cells[-3] not in ("", "unk") else ""
            writer.writerow(cells)
    inventory._take_in(path, inventory.FIRST)
    inventory._lay_neighborhoods()
    moment, day = f"'{BEGAN} 09:00+00'", f"'{BEGAN}'"
    for table, sets in (
        ("services_inventory_evidence", f"recorded_at = {moment}"),
        ("services_inventory_categorychange", f"recorded_at = {moment}, effective_on = {day}"),
        ("services_inventory_serviceline", f"category_since = {day}"),
        ("services_inventory_batch", f"created_at = {moment}"),
    ):
        bulk.execute(f"UPDATE {table} SET {sets}")
    return {}


def _step_history(folder: Path, size: str) -> dict:
    """Write what came later, seal all of it, and let the server settle."""
    from django.conf import settings
    from django.db import connection, transaction

    from program.operations.row_digests import row_digests_take
    from program.operations.sealing import record_seal
    from services_inventory import bulk

    each, pairs, documents = SIZES[size]
    lines = bulk.number("SELECT count(*) FROM services_inventory_serviceline")
    there = bulk.number("SELECT count(*) FROM services_inventory_evidence")
    paths = _shared_files(Path(settings.MEDIA_ROOT))
    number = int(lines * documents)
    with transaction.atomic(), bulk.built_after(*_WRITTEN, first=True):
        bulk.execute("SET LOCAL work_mem = '512MB'")
        bulk.stage("growth_file", (("n", "KEY"), ("path", "TEXT"), ("sha256", "TEXT")), paths)
        _write_documents(number, size)
        _write_statements(int(lines * each) - there, number, size)
        _write_changes(int(lines * pairs), size)
    at = datetime.combine(ENDS + timedelta(days=2), datetime.min.time(), UTC)
    row_digests_take(at=at)
    record_seal(at=at)
    connection.close()  # no transaction is open: VACUUM wants none
    bulk.execute("VACUUM (ANALYZE)")
    return {}


_WRITTEN = (
    "services_inventory_evidence", "services_inventory_categorychange",
    "services_inventory_document",
)  # fmt: skip


def _shared_files(folder: Path) -> Iterator[tuple]:
    import hashlib

    (folder / "documents").mkdir(parents=True, exist_ok=True)
    for number in range(FILES):
        content = f"photograph {number}\n".encode() * 400
        (folder / f"documents/shared_{number}.jpg").write_bytes(content)
        yield number, f"documents/shared_{number}.jpg", hashlib.sha256(content).hexdigest()


def _day(number: str, of: str, size: str) -> str:
    """Say the day of the n-th of so many acts, evenly over the last part of the years."""
    days = int(DAYS * OF_DAYS[size])
    return f"(DATE '{ENDS}' - {days} + CAST({number} * {days - 1} / {of} AS integer))"


def _write_documents(number: int, size: str) -> None:
    from services_inventory import bulk

    bulk.execute(
        "INSERT INTO services_inventory_document (file, name, kind, content_type, sha256, bytes, "
        "owner_key, uploaded_by, uploaded_at) SELECT f.path, 'photograph ' || g.n, 'EVIDENCE', "
        f"'image/jpeg', f.sha256, 5600, '', 'crew', {_day('g.n', str(number), size)} "
        "+ TIME '15:00' + g.n %% 3600 * INTERVAL '1 second' "
        f"FROM generate_series(CAST(0 AS bigint), {number - 1}) g(n) JOIN growth_file f "
        f"ON f.n = g.n %% {FILES} ORDER BY g.n"
    )


def _write_statements(number: int, by_hand: int, size: str) -> None:
    """Say again what was known: most by a file a month, the rest by people, with a document."""
    from services_inventory import bulk

    bulk.execute(
        "CREATE TEMPORARY TABLE growth_known ON COMMIT DROP AS SELECT row_number() OVER "
        "(ORDER BY id) - 1 AS n, * FROM services_inventory_evidence"
    )
    bulk.execute("CREATE INDEX growth_known_n ON growth_known (n)")
    known = bulk.number("SELECT count(*) FROM growth_known")
    contents = list(
        bulk.stream(
            "SELECT DISTINCT content_key, portion, era, material, basis, points_seen, source "
            "FROM growth_known"
        )
    )
    bulk.stage(
        "growth_said",
        (("was", "INTEGER"), ("day", "DATE"), ("content_key", "INTEGER")),
        _said(contents),
    )
    bulk.index("growth_said", "day", "was")
    day = _day("n", str(number), size)
    hand = f"n * {by_hand} / {number} > (n - 1) * {by_hand} / {number}"
    bulk.execute(
        "INSERT INTO services_inventory_evidence (line_id, portion, material, basis, era, "
        "points_seen, observed_on, place, every_earlier_pipe, below_lead, resolves, both_true, "
        "source, note, recorded_at, recorded_by, content_key, fact_code, document_id) "
        "SELECT k.line_id, k.portion, k.material, k.basis, k.era, k.points_seen, a.day, '', "
        "FALSE, FALSE, '', FALSE, k.source, '', CASE WHEN a.hand THEN a.day + TIME '15:00' "
        "+ a.n %% 9973 * INTERVAL '1 second' ELSE a.day + TIME '02:00' END, "
        "CASE WHEN a.hand THEN 'crew' ELSE 'files' END, s.content_key, k.fact_code, "
        f"CASE WHEN a.hand THEN d.first + a.n * {by_hand} / {number} - 1 END "
        f"FROM (SELECT n, hand, CASE WHEN hand THEN day ELSE CAST(date_trunc('month', day) AS "
        f"date) END AS day FROM (SELECT n, {hand} AS hand, {day} AS day FROM "
        f"generate_series(CAST(1 AS bigint), {number}) n) AS one) a "
        "CROSS JOIN (SELECT min(id) AS first FROM services_inventory_document) d "
        f"JOIN growth_known k ON k.n = a.n * 7919 %% {known} "
        "JOIN growth_said s ON s.was = k.content_key AND s.day = a.day ORDER BY a.n"
    )


def _said(contents: list[tuple]) -> Iterator[tuple]:
    """Yield for each content and day the number of the same content, seen on that day."""
    from services_inventory.statements import Statement, content_key

    for was, portion, era, material, basis, points, source in contents:
        for number in range(-31, DAYS + 1):
            day = BEGAN + timedelta(days=number)
            said = Statement(portion, era, material, basis, points, day, source=source)
            yield was, day, content_key(said)


def _write_changes(pairs: int, size: str) -> None:
    """Let lines have changed category, each on a day of its own, and back within two months."""
    from services_inventory import bulk

    lines = bulk.number("SELECT count(*) FROM services_inventory_serviceline")
    day = _day("g.n", str(pairs), size)
    bulk.execute(
        "CREATE TEMPORARY TABLE growth_pair ON COMMIT DROP AS "
        "SELECT l.id, l.category, l.decision_id, o.category AS other, o.id AS other_decision, "
        f"{day} AS left_on, "
        f"LEAST({day} + 1 + CAST(g.n %% 60 AS integer), DATE '{ENDS}') AS back_on "
        f"FROM generate_series(CAST(0 AS bigint), {pairs - 1}) g(n) JOIN (SELECT row_number() OVER "
        f"(ORDER BY id) - 1 AS n, * FROM services_inventory_serviceline) l ON l.n = g.n * 7919 %% "
        f"{lines} JOIN (SELECT category, min(id) AS id FROM services_inventory_decision "
        "GROUP BY category) o ON o.category = CASE WHEN l.category = 'UNKNOWN' THEN 'LEAD' "
        "ELSE 'UNKNOWN' END"
    )
    bulk.execute(
        "INSERT INTO services_inventory_categorychange (line_id, from_category, to_category, "
        "decision_id, effective_on, recorded_at, recorded_by) SELECT id, was, now, decision, day, "
        "day + TIME '15:00', 'crew' FROM (SELECT id, category AS was, other AS now, "
        "other_decision AS decision, left_on AS day FROM growth_pair UNION ALL SELECT id, other, "
        "category, decision_id, back_on FROM growth_pair) AS one ORDER BY day, id"
    )
    bulk.execute(
        "UPDATE services_inventory_serviceline AS l SET category_since = p.back_on "
        "FROM growth_pair p WHERE p.id = l.id"
    )


# What is measured.


@contextmanager
def cost() -> Iterator[list]:
    """Yield a list that holds, at the end, processor s and touched pages of the database."""
    from django.db import connection

    name, found = connection.settings_dict["NAME"], []
    sessions, over = {}, Event()
    watcher = Thread(target=_watch, args=(name, sessions, over), daemon=True)
    pages, began = _touched(), _own_s()
    _look(name, sessions)
    before = dict(sessions)
    watcher.start()
    yield found
    over.set()
    watcher.join()
    _look(name, sessions)
    spent = sum(took - before.get(pid, 0) for pid, took in sessions.items())
    found += [_own_s() - began + spent, _touched() - pages]


def _own_s() -> float:
    """Return the processor time of this process and of its children that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def _watch(name: str, sessions: dict, over: Event) -> None:
    while not over.wait(0.1):
        _look(name, sessions)


def _look(name: str, sessions: dict[int, float]) -> None:
    """Note what each session of the database has spent so far, as it may end meanwhile."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            said = (folder / "cmdline").read_bytes()
            if said.startswith(b"postgres:") and f" {name} ".encode() in said:
                spent = int((folder / "schedstat").read_text().split()[0]) / 1e9
                sessions[int(folder.name)] = spent
        except (OSError, ValueError):  # it ended meanwhile
            continue


def _touched() -> int:
    """Return how many pages of the database were touched, from memory or disk."""
    from services_inventory import bulk

    bulk.fetched("SELECT pg_stat_force_next_flush()")
    time.sleep(0.3)
    return bulk.number(
        "SELECT blks_hit + blks_read FROM pg_stat_database WHERE datname = current_database()"
    )


def _step_measure(folder: Path, only: str = "") -> dict:
    from services_inventory import models
    from tests.bench.rows import engine

    sizes = {
        name: getattr(models, table).objects.count()
        for name, table in (
            ("lines", "ServiceLine"), ("statements", "Evidence"), ("changes", "CategoryChange"),
            ("documents", "Document"),
        )
    }  # fmt: skip
    costs = {}
    for name, work in _works(folder).items():
        if any(part in name for part in only.split(",")):
            print(name, "...", file=sys.stderr, flush=True)
            costs[name] = work()
            print(costs[name], file=sys.stderr, flush=True)
    return {"sizes": sizes, "costs": costs, "database": engine()}


def _works(folder: Path) -> dict[str, Callable]:
    """Return what is measured by its name; what writes comes last."""
    return {
        **_pages(),
        "check_record, as at night": lambda: _command("check_record", "--in-turn"),
        "(check_record, all of it)": lambda: _command("check_record"),
        "one submission": _submission,
        "an update of every twentieth line": lambda: _update(folder),
    }


def _pages() -> dict[str, Callable]:
    from django.contrib.auth.models import Group, User
    from django.test import Client

    from program.roles import PROGRAM_MANAGER
    from tests.bench import pages

    user, _ = User.objects.get_or_create(username="bench")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client = Client(headers={"host": "localhost"})
    client.force_login(user)
    addresses = {name: found for name, found in pages._pages(client).items() if name in PAGES}
    counts = pages._address("counts")
    addresses["counts, as was known half a year ago"] = [
        f"{counts}?on=2026-05-31&known=2026-05-31"
    ] * 6
    addresses["(counts, a day six years ago)"] = [f"{counts}?on=2020-11-30"] * 6

    def asked(some) -> tuple:
        some = list(some)
        pages._milliseconds(client, some[0])
        with cost() as found:
            took = [pages._milliseconds(client, address)[0] for address in some[1:]]
        return p50_p95(took)[0] / 1000, found[1] // len(took)

    return {name: lambda some=some: asked(some) for name, some in addresses.items()}


def _command(*words: str) -> tuple:
    from io import StringIO

    from django.core.management import call_command

    said = StringIO()
    with cost() as found:
        try:
            call_command(*words, stdout=said)
        except SystemExit:
            raise SystemExit(said.getvalue()) from None
    return tuple(found)


def _submission() -> tuple:
    from program.models import Submission
    from program.operations.submissions import submission_amend, submission_freeze

    at = datetime.combine(ENDS + timedelta(days=3), datetime.min.time(), UTC)
    said = {"by": "bench", "at": at, "today": at.date()}
    earlier = Submission.objects.order_by("-revision").first()
    with cost() as found:
        if earlier:
            submission_amend(submission=earlier, what_changed="Timed again.", **said)
        else:
            submission_freeze(year=2026, **said)
    return tuple(found)


def _update(folder: Path) -> tuple:
    """Take in new evidence about every twentieth line, and let it go again."""
    from django.db import connection, transaction

    from services_inventory import bulk
    from tests.bench import inventory

    lines = bulk.number("SELECT count(*) FROM services_inventory_serviceline")
    path = inventory.write_update(folder / "update.csv", lines)
    at = datetime.combine(ENDS + timedelta(days=4), datetime.min.time(), UTC)
    with cost() as found, transaction.atomic():
        inventory._take_in(path, at)
        connection.check_constraints()
        transaction.set_rollback(True)
    return tuple(found)


if __name__ == "__main__":
    run_step(globals()) or main()
