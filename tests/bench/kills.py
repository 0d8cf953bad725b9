"""Processes killed at random moments of an act: what was tried, lost, doubled.

    python -m tests.bench kills --count 200
    python -m tests.bench kills --count 200 --postgresql

Each try begins with the same invented town. A process does one act (takes a file in, accepts work,
freezes a submission, takes a drop, prints letters) and is killed at a random moment by SIGKILL; or
its database is; or its disk is full; or its clock jumps while it works. The moment lies within what
the act was measured to need: a time, a size of its largest file, a look at the clock; a try that
came too late is made again. Then the record must be as before or complete. The act is done again,
as whoever waited for it would: the record must be complete, once, and hold. *Lost* is what was
answered and is not there, what cannot be done again, and a record that does not hold; *doubled*
what is there twice.
"""

import argparse
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from contextlib import redirect_stdout, suppress
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from tests.bench.kill_databases import Databases, Servers

ROWS = 300
BY_THE_ROW = {"drop"}  # each row of a drop goes in whole or not at all; the rest when sent again
MOST_TRIES = 8
COMPANY = "Alder Gate Trenching"
TOKEN = "a-token-of-one-form"


# Acts: each is done in a process of its own, begins with nothing kept, and can be done again


def take_in(folder: Path) -> None:
    """Take a file in, as the command does."""
    from django.core.management import call_command

    call_command("take_in", str(folder / "lines.csv"), json=True)


def accept(folder: Path) -> None:
    """Accept work in the browser: the same form sent again carries the same token."""
    from django.contrib.auth import get_user_model
    from django.test import Client

    from replacements.models import CompletionRecord

    client = Client(headers={"host": "localhost"})
    client.force_login(get_user_model().objects.get(username="compliance"))
    record = CompletionRecord.objects.filter(work_order__number="KILLED").latest("id")
    sent = {"record": [record.pk], "accept": "1", "once_token": TOKEN}
    answer = client.post("/work/review/", sent)
    place = answer.get("Location", "")
    if not place.startswith("/work/review/"):
        raise SystemExit(f"Not answered: {answer.status_code} {place}")


def freeze(folder: Path) -> None:
    """Freeze the submission of the year that the town has not frozen."""
    from django.core.management import call_command

    call_command("annual_submission", "2030", out=str(folder / "out"), json=True)


def drop(folder: Path) -> None:
    """Take a contractor's drop."""
    from replacements.models import Contractor
    from tests.replacements.completion.drops import run
    from tests.replacements.factories import LATER

    with (folder / "drop.zip").open("rb") as file:
        batch = run(Contractor.objects.get(name=COMPANY), file, at=LATER)
    if batch.state != "APPLIED":
        raise SystemExit(f"{batch.message} {batch.counts} {batch.result}")


def letters(folder: Path) -> None:
    """Print letters that were asked for, as the worker does; asked for again if it was refused."""
    from django.core.management import call_command

    from program.clock import now
    from services_inventory.models import Batch
    from services_inventory.operations.batches import batch_open, batch_queue

    last = Batch.objects.filter(kind="LETTERS", title="Killed").latest("id")
    if last.state == "REFUSED":
        asked = {"parameters": last.parameters, "title": last.title}
        batch_queue(batch=batch_open(kind="LETTERS", by="manager", at=now(), **asked))
    call_command("worker", once=True)
    last = Batch.objects.filter(kind="LETTERS", title="Killed").latest("id")
    if last.state != "APPLIED":  # the worker lives on; whoever asked reads why
        raise SystemExit(f"{last.state} {last.message}")


def _whole(batch) -> bool:
    """Tell whether each file of printed letters can be read, and all their pages are there."""
    from pypdf import PdfReader

    from program.notices.printing import folder_of

    paths = [folder_of(batch.batch_id) / file["name"] for file in batch.files]
    pages = sum(len(PdfReader(path, strict=True).pages) for path in paths if path.suffix == ".pdf")
    rows = sum(path.read_bytes().count(b"\r\n") for path in paths if path.suffix == ".csv")
    return pages == batch.batch.counts["pages"] and rows == batch.letters + 1


def facts(act: str) -> tuple[int, int]:
    """Return (how much of the act is there, how much of it there should be)."""
    from program.models import NoticeBatch, Submission
    from replacements.models import CompletionRecord, CompletionReview, Replacement
    from services_inventory.models import Batch, ServiceLine

    if act == "take-in":
        return ServiceLine.objects.filter(location_id__regex="^L[0-9]{8}$").count(), ROWS
    if act == "acceptance":
        of_order = {"completion__work_order__number": "KILLED"}
        reviews = CompletionReview.objects.filter(**of_order).count()
        return reviews + Replacement.objects.filter(**of_order).count(), 2
    if act == "freeze":
        return Submission.objects.filter(year=2030, state="FROZEN").count(), 1
    if act == "drop":
        return CompletionRecord.objects.filter(work_order__contractor__name=COMPANY).count(), 3
    done = Batch.objects.filter(kind="LETTERS", title="Killed", state="APPLIED").count()
    printed = NoticeBatch.objects.filter(batch__title="Killed")
    return done + len(printed) + sum(map(_whole, printed)), 3


ACTS: dict[str, Callable[[Path], None]] = {
    "take-in": take_in, "acceptance": accept, "freeze": freeze, "drop": drop, "letters": letters,
}  # fmt: skip


def town(folder: Path) -> None:
    """Build the town, and what each act works on."""
    from django.core.management import call_command
    from django.db import connection

    from fixtures.demo import build_demo
    from program.clock import now
    from program.models import Submission, SubmissionFile
    from services_inventory.operations.batches import batch_open, batch_queue
    from tests.bench.intake_file import write
    from tests.replacements.completion.drops import files_of, filled, zipped
    from tests.replacements.factories import contractor, handed_in, order, pull, started

    call_command("migrate", verbosity=0)
    build_demo(say=lambda text: None, report=lambda done, total: None, lines=150)
    SubmissionFile.objects.filter(submission__year=2030).delete()
    Submission.objects.filter(year=2030).delete()
    shutil.rmtree(folder / "submissions", ignore_errors=True)
    write(folder / "lines.csv", ROWS)
    handed = started(order())
    handed_in(handed, pull=pull(handed))
    type(handed).objects.filter(pk=handed.pk).update(number="KILLED")
    company = contractor(COMPANY)
    orders = [started(order(company)) for _ in range(3)]
    files = {name: content for one in orders for name, content in files_of(one).items()}
    (folder / "drop.zip").write_bytes(zipped({"form.xlsx": filled(orders)} | files).read())
    parameters = {  # of the kinds owed in the town, the one whose words are filled in
        "kind": "LEAD", "due_by": "2032-12-31", "languages": ["en"], "dated": "2031-01-15"
    }  # fmt: skip
    batch_queue(
        batch=batch_open(
            kind="LETTERS", by="manager", at=now(), parameters=parameters, title="Killed"
        )
    )
    connection.close()  # SQLite's log goes into its file, and begins at nothing in each try


# Processes


def apart(work: Callable, *, said: Path | None = None) -> int:
    """Begin something in a process of its own; return its id."""
    pid = os.fork()
    if pid:
        return pid
    code = 1
    try:
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        errors = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC) if said else quiet
        os.dup2(errors, 2)
        work()
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(code)


def ended(pid: int) -> bool:
    """Wait for a process; tell whether it ended well."""
    return os.waitpid(pid, 0)[1] == 0


def looked(folder: Path, act: str, *, whole: bool) -> dict:
    """Return how much of an act is there, and, of a whole record, what does not hold in it."""

    def look() -> None:
        from services_inventory.queries.checks import checks

        there, expected = facts(act)
        wrong = [s for check in checks() for s in check()] if whole else []
        told = {"there": there, "expected": expected, "wrong": wrong}
        (folder / "looked.json").write_text(json.dumps(told))

    (folder / "looked.json").unlink(missing_ok=True)
    if not ended(apart(look, said=folder / "errors")):
        return {"there": -1, "expected": 0, "wrong": [(folder / "errors").read_text()[-500:]]}
    return json.loads((folder / "looked.json").read_text())


@dataclass
class Undisturbed:
    """What an act needs that nobody breaks off: seconds, bytes of its largest file, looks."""

    seconds: float = 0
    largest: int = 0
    looks: int = 0


def _full_disk(most: int) -> None:
    """Let no file grow beyond so many bytes."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def _jumping_clock(at: int, days: float, looks: Path) -> None:
    """Let the clock jump when it is looked at for the so-manieth time; note the looks."""
    from datetime import timedelta

    from django.utils import timezone

    real, monotone, count = timezone.now, time.time, 0

    def shift() -> float:
        nonlocal count
        count += 1
        looks.write_text(str(count))
        return days if count >= at else 0

    timezone.now = lambda: real() + timedelta(days=shift())
    time.time = lambda: monotone() + 86_400 * shift()


def broken_off(act: str, victim: str, databases: Databases, needs: Undisturbed, chance) -> tuple:
    """Do an act and break it off; return (whether that reached it, whether it ended well)."""
    folder, looks = databases.folder, databases.folder / "looks"
    at, most = chance.randint(1, max(needs.looks, 1)), int(chance.uniform(0, needs.largest))
    days = chance.uniform(-2, 2)

    def work() -> None:
        if victim == "disk":
            _full_disk(most)
        if victim == "clock":
            _jumping_clock(at, days, looks)
        ACTS[act](folder / "now")

    databases.anew()
    looks.write_text("0")
    pid = apart(work, said=folder / "first")
    if victim in ("process", "database"):
        time.sleep(chance.uniform(0, needs.seconds))
        if os.waitid(os.P_PID, pid, os.WEXITED | os.WNOHANG | os.WNOWAIT):
            return False, ended(pid)
        databases.kill() if victim == "database" else os.kill(pid, signal.SIGKILL)
    well = ended(pid)
    return (int(looks.read_text()) >= at if victim == "clock" else not well), well


def tried(act: str, victim: str, databases: Databases, needs: Undisturbed, chance) -> dict:
    """Do an act and break it off; do it again; return what was lost or doubled, and why."""
    folder, hit, tries = databases.folder, False, 0
    while not hit and tries < MOST_TRIES:
        hit, answered = broken_off(act, victim, databases, needs, chance)
        tries += 1
    after = looked(folder, act, whole=False)
    half = after["there"] not in (0, after["expected"]) and act not in BY_THE_ROW
    unanswered = answered and after["there"] != after["expected"]
    again = ended(apart(lambda: ACTS[act](folder / "now"), said=folder / "again"))
    last = looked(folder, act, whole=True)
    why = [*last["wrong"]]
    if half:
        why.append(f"half there after it: {after}")
    if unanswered:
        why.append(f"answered, but not there: {after}")
    if not again and last["there"] != last["expected"]:
        why.append((folder / "again").read_text()[-600:])
    return {
        "hit": hit,
        "lost": bool(why) or last["there"] < last["expected"],
        "doubled": last["there"] > last["expected"],
        "why": why or ([str(last)] if last["there"] != last["expected"] else []),
    }


def _sizes(folder: Path) -> dict[Path, int]:
    """Return the size of each file, the database's own left out: what it writes is in its log."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".sqlite3")
    return {path: path.stat().st_size for path in files}


def _warm(act: str, databases: Databases) -> None:
    """Do an act once in this process, as a server has that is not new; its children then are."""
    from django.core.cache import cache
    from django.db import connections

    databases.anew()
    with redirect_stdout(StringIO()):
        ACTS[act](databases.folder / "now")
    connections.close_all()
    cache.clear()


def measured(act: str, databases: Databases) -> Undisturbed:
    """Return what an act needs that nobody breaks off; it must come to its end."""
    folder, needs = databases.folder, Undisturbed()
    _warm(act, databases)
    for with_looks in (True, False):  # to note each look takes time
        databases.anew()
        before = _sizes(folder / "now")

        def work(with_looks: bool = with_looks) -> None:
            if with_looks:
                _jumping_clock(1, 0, folder / "looks")
            ACTS[act](folder / "now")

        begun, pid = time.perf_counter(), apart(work, said=folder / "first")
        while with_looks and not os.waitid(os.P_PID, pid, os.WEXITED | os.WNOHANG | os.WNOWAIT):
            with suppress(FileNotFoundError):
                grown = {n for p, n in _sizes(folder / "now").items() if n > before.get(p, 0)}
                needs.largest = max(needs.largest, *grown, 0)
        if not ended(pid):
            raise SystemExit(f"{act}: {(folder / 'first').read_text()[-2000:]}")
        needs.seconds = time.perf_counter() - begun
    needs.looks = int((folder / "looks").read_text())
    found = looked(folder, act, whole=True)
    if found["wrong"] or found["there"] != found["expected"]:
        raise SystemExit(f"{act}, undisturbed: {found}")
    return needs


def main() -> None:
    """Build the town once, break off every act, print a row for each; end with 1 if any failed."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--count", type=int, default=200, help="tries of each act and each victim")
    asked.add_argument("--postgresql", action="store_true", help="a cluster of its own")
    asked.add_argument("--port", type=int, default=55987)
    asked.add_argument("--acts", default=",".join(ACTS))
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", type=Path, help="folder of the town, to be used again (SQLite)")
    given = asked.parse_args()
    bad = 0
    with tempfile.TemporaryDirectory(prefix="bench-kills-") as name:
        folder = given.keep or Path(name)
        (folder / "now").mkdir(parents=True, exist_ok=True)
        databases = Servers(folder, given.port) if given.postgresql else Databases(folder)
        os.environ |= {
            "DATA_DIR": str(folder / "now"), "DATABASE_URL": databases.url, "SECRET_KEY": "-",
            "DJANGO_SETTINGS_MODULE": "program.settings",
        }  # fmt: skip
        import django

        django.setup()
        from services_inventory.page_loading import every_view

        every_view()  # as a web server does, before its first visitor
        try:
            if not (folder / "town").exists():
                if not ended(apart(lambda: town(folder / "now"), said=folder / "first")):
                    raise SystemExit((folder / "first").read_text()[-3000:])
                databases.keep()
            bad = _table(given, databases)
        finally:
            databases.end()
    sys.exit(bool(bad))


def _table(given, databases: Databases) -> int:
    heads = ("act", "what failed", "tried", "reached", "lost", "doubled", "s")
    print(f"| {' | '.join(heads)} |\n|{'---|' * len(heads)}")
    bad = 0
    for act in given.acts.split(","):
        needs = measured(act, databases)
        for victim in databases.victims:
            if victim == "disk" and not needs.largest:
                continue  # it writes no file: the disk is the database's alone
            chance, found = random.Random(f"{given.seed} {act} {victim}"), Counter()
            for number in range(given.count):
                one = tried(act, victim, databases, needs, chance)
                found += Counter({key: int(one[key]) for key in ("hit", "lost", "doubled")})
                for sentence in one["why"][:3]:
                    print(f"{act}, {victim}, try {number}: {sentence}", file=sys.stderr, flush=True)
            bad += found["lost"] + found["doubled"]
            figures = [found[key] for key in ("hit", "lost", "doubled")]
            cells = " | ".join(map(str, (act, victim, given.count, *figures)))
            print(f"| {cells} | {needs.seconds:.2f} |", flush=True)
    return bad


if __name__ == "__main__":
    main()
