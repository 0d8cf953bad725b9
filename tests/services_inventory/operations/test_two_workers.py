"""Workers of several machines: each batch is done once, whoever is killed over it."""

import os
import subprocess
import sys
import threading
import time
from contextlib import contextmanager

import pytest
from django.db import connection, transaction

from services_inventory import bulk
from services_inventory.models import Batch, SavedColumns
from services_inventory.operations.batches import (
    _end,
    batch_claim,
    batch_open,
    batch_queue,
    batch_run,
)
from tests.services_inventory.factories import MORNING
from tests.source_files import ROOT

WAIT_S = 60


@contextmanager
def worker(folder):
    """A worker of another machine: the database is the test's, its folder of data its own."""
    folder.mkdir()
    server = connection.settings_dict
    address = f"postgresql://{server['USER']}@{server['HOST']}:{server['PORT']}/{server['NAME']}"
    running = subprocess.Popen(
        [sys.executable, "-m", "tests.services_inventory.operations.one_of_two", str(folder)],
        cwd=ROOT, env={**os.environ, "DATA_DIR": str(folder), "DATABASE_URL": address,
                       "DJANGO_SETTINGS_MODULE": "program.settings"},
    )  # fmt: skip
    try:
        yield running
    finally:
        running.kill()
        running.wait()


def wait_for(there) -> None:
    end = time.monotonic() + WAIT_S
    while not there():
        assert time.monotonic() < end, "nothing came within a minute"
        time.sleep(0.05)


@pytest.mark.skipif(not bulk.on_postgresql(), reason="SQLite is one machine's")
@pytest.mark.django_db(transaction=True)
def test_what_a_killed_worker_left_is_done_once_by_one_of_another_machine(tmp_path):
    batch = batch_queue(batch=batch_open(kind="ONE", by="m", at=MORNING))
    one, two = tmp_path / "one", tmp_path / "two"
    with worker(one) as first:
        wait_for((one / "began").exists)
        with worker(two) as second:
            (two / "may end").touch()
            wait_for((two / "progress" / "workers").exists)
            time.sleep(1)  # it looked at what the first has, some times
            batch.refresh_from_db()
            assert batch.held_by.endswith(f"process {first.pid}")
            assert not (two / "began").exists()
            first.kill()
            wait_for(lambda: Batch.objects.get().state == Batch.State.APPLIED)
            done = Batch.objects.get()
            assert done.held_by.endswith(f"process {second.pid}") and done.taken_up == 1
            assert [row.header_sha256 for row in SavedColumns.objects.all()] == [str(second.pid)]


def _somebody_waits_for_a_lock() -> bool:
    asked = "SELECT count(*) FROM pg_locks WHERE NOT granted"
    with connection.cursor() as cursor:
        return cursor.execute(asked).fetchone()[0] > 0


def run_checked(*, batch, report):
    """Say that the check is done, as intake does within the step, before the step has ended."""
    batch.state = Batch.State.CHECKED
    batch.save(update_fields=["state"])


@pytest.mark.skipif(not bulk.on_postgresql(), reason="on SQLite one writes at a time")
@pytest.mark.django_db(transaction=True)
def test_who_sends_a_batch_on_at_the_moment_its_check_ends_is_not_overruled(settings):
    settings.BATCH_KINDS = {"QUICK": {"label": "quick", "run": f"{__name__}.run_checked"}}
    batch_queue(batch=batch_open(kind="QUICK", by="m", at=MORNING), step="CHECK")
    batch = batch_claim()
    run_checked(batch=batch, report=None)

    def ended():
        _end(batch, batch.state, "")
        connection.close()

    with transaction.atomic():
        batch_queue(batch=Batch.objects.get(), step="APPLY")
        running = threading.Thread(target=ended)
        running.start()
        wait_for(_somebody_waits_for_a_lock)
    running.join(WAIT_S)
    assert Batch.objects.get().state == Batch.State.QUEUED


def run_taken_over(*, batch, report):
    """While it runs, another machine takes the batch over, as this one had lost the database."""
    Batch.objects.filter(pk=batch.pk).update(held_by="another, process 7")
    batch.state = Batch.State.APPLIED


@pytest.mark.django_db
def test_who_lost_a_batch_to_another_does_not_write_how_it_ended(settings):
    settings.BATCH_KINDS = {"LOST": {"label": "lost", "run": f"{__name__}.run_taken_over"}}
    batch_queue(batch=batch_open(kind="LOST", by="m", at=MORNING))
    batch_run(batch=batch_claim())
    left = Batch.objects.get()
    assert (left.state, left.held_by) == (Batch.State.APPLYING, "another, process 7")
