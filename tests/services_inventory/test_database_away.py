"""A database that is away or busy is told in a sentence, and the worker outlives it.

The codes: PostgreSQL's manual, appendix A; sqlite.org, "Result and Error Codes".
"""

import errno
import os
import sqlite3
import subprocess
import sys

import psycopg
import pytest
from django.core.management import call_command
from django.db import OperationalError, ProgrammingError, connection
from django.test import Client

from services_inventory.database_away import AWAY, BUSY, DISK_FULL, database_away, disk_full
from services_inventory.management.commands.worker import Command
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue
from tests.services_inventory.factories import MORNING
from tests.source_files import ROOT


def raised(cause, kind=OperationalError):
    """Return a Django error as its wrapper raises it, with what the driver said as cause."""
    error = kind(str(cause))
    error.__cause__ = cause
    return error


@pytest.mark.parametrize(
    ("cause", "sentence"),
    [
        (psycopg.OperationalError("connection refused"), AWAY),
        (psycopg.errors.AdminShutdown(), AWAY),
        (psycopg.errors.CannotConnectNow(), AWAY),
        (psycopg.errors.TooManyConnections(), AWAY),
        (psycopg.errors.DiskFull(), DISK_FULL),
        (psycopg.errors.LockNotAvailable(), ""),
        (psycopg.errors.QueryCanceled(), ""),
        (ValueError("no driver's error"), ""),
    ],
)
def test_postgresql_says_by_its_code_whether_the_database_is_away(cause, sentence):
    assert database_away(raised(cause)) == sentence


def test_an_error_of_a_statement_is_not_taken_for_a_database_that_is_away():
    assert database_away(raised(psycopg.errors.UndefinedTable(), ProgrammingError)) == ""
    assert database_away(ValueError("text")) == ""
    assert database_away(None) == ""


def test_sqlite_says_whether_it_is_missing_or_busy(tmp_path):
    with pytest.raises(sqlite3.OperationalError) as missing:
        sqlite3.connect(tmp_path / "no folder" / "record.sqlite3")
    assert database_away(raised(missing.value)) == AWAY
    path = tmp_path / "record.sqlite3"
    writing, waiting = sqlite3.connect(path), sqlite3.connect(path, timeout=0)
    writing.execute("BEGIN IMMEDIATE")
    with pytest.raises(sqlite3.OperationalError) as locked:
        waiting.execute("BEGIN IMMEDIATE")
    assert database_away(raised(locked.value)) == BUSY
    with pytest.raises(sqlite3.OperationalError) as wrong:
        waiting.execute("SELECT x FROM nothing")
    assert database_away(raised(wrong.value)) == ""


def test_a_full_disk_is_told_whoever_meets_it(tmp_path):
    full = sqlite3.connect(tmp_path / "record.sqlite3")
    full.execute("CREATE TABLE line (note TEXT)")
    full.execute("PRAGMA max_page_count = 2")  # as if the disk ended there
    with pytest.raises(sqlite3.OperationalError) as met:
        full.execute("INSERT INTO line VALUES (?)", ("n" * 100_000,))
    assert database_away(raised(met.value)) == DISK_FULL
    assert disk_full(OSError(errno.ENOSPC, "No space left on device")) == DISK_FULL
    assert disk_full(OSError(errno.ENOENT, "No such file")) == ""
    assert disk_full(None) == ""


def away(*args, **kwargs):
    raise raised(psycopg.OperationalError("connection refused"))


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/healthy/", "/public/en/"])
def test_a_page_says_that_the_database_is_away(monkeypatch, path):
    monkeypatch.setattr(connection, "ensure_connection", away)
    answer = Client(raise_request_exception=False).get(path)
    assert answer.status_code == 503
    assert "database does not answer" in answer.content.decode()
    assert answer.headers["Retry-After"] == "60"


@pytest.mark.django_db
def test_another_error_is_not_blamed_on_the_database(monkeypatch):
    def broken(*args, **kwargs):
        raise ZeroDivisionError

    monkeypatch.setattr(connection, "ensure_connection", broken)
    answer = Client(raise_request_exception=False).get("/healthy/")
    assert answer.status_code == 500
    assert "did not expect" in answer.content.decode()


@pytest.mark.one_engine
def test_a_command_says_that_the_database_is_away_without_a_traceback(tmp_path):
    ran = subprocess.run(
        [sys.executable, "manage.py", "check_record"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        env={
            **os.environ,
            "DATA_DIR": str(tmp_path),
            "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/nothing",
        },
    )
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert "The database does not answer." in ran.stderr


RUNS = []


def run_losing_its_database(*, batch, report):
    report(1, 2)
    RUNS.append(batch.pk)
    if len(RUNS) == 1:
        away()
    batch.state = Batch.State.APPLIED


@pytest.fixture
def losing(settings, monkeypatch):
    """Return a waiting batch whose database goes away in its midst, even for its last word."""
    RUNS.clear()
    settings.BATCH_KINDS = {"LOSING": {"label": "x", "run": f"{__name__}.run_losing_its_database"}}
    batch = batch_queue(batch=batch_open(kind="LOSING", by="m", at=MORNING))
    real = Batch.save

    def save(self, *args, **kwargs):
        return away() if self.state == Batch.State.REFUSED else real(self, *args, **kwargs)

    monkeypatch.setattr(Batch, "save", save)
    return batch


@pytest.mark.django_db
def test_the_worker_waits_for_the_database_and_takes_its_batch_up_again(losing, monkeypatch):
    waits = []
    worker = Command()
    command = "services_inventory.management.commands.worker"

    def sleep(seconds):
        waits.append(seconds)
        worker.ending = len(RUNS) > 1

    monkeypatch.setattr(f"{command}.connections.close_all", lambda: None)
    monkeypatch.setattr(f"{command}.close_old_connections", lambda: None)
    monkeypatch.setattr(f"{command}.signal.signal", lambda *a: None)
    monkeypatch.setattr(f"{command}.time.sleep", sleep)
    call_command(worker)
    losing.refresh_from_db()
    assert RUNS == [losing.pk, losing.pk]
    assert losing.state == Batch.State.APPLIED
    assert waits[0] == 2
