"""Long operations: one worker gets each, progress is visible, a killed one is taken up again."""

import errno
import json
import os
import socket
import time

import pytest

from services_inventory import progress
from services_inventory.bulk import on_postgresql
from services_inventory.database_away import DISK_FULL
from services_inventory.models import Batch
from services_inventory.operations.batches import (
    MOST_TAKEN_UP,
    batch_claim,
    batch_open,
    batch_queue,
    batch_run,
    batch_stop,
    batches_recover,
)
from services_inventory.refused import Refused
from tests.services_inventory.factories import MORNING

pytestmark = pytest.mark.django_db
RUNS = []


def run_fine(*, batch, report):
    report(1, 2)
    RUNS.append(progress.read(batch.pk)["done"])
    report(2, 2)
    batch.state = Batch.State.APPLIED


def run_refusing(*, batch, report):
    raise Refused("Row 7 has no address. Add one.")


def run_broken(*, batch, report):
    raise ZeroDivisionError


def run_full(*, batch, report):
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.fixture(autouse=True)
def kinds(settings):
    RUNS.clear()
    settings.BATCH_KINDS = {
        kind: {"label": kind.lower(), "run": f"{__name__}.run_{kind.lower()}"}
        for kind in ("FINE", "REFUSING", "BROKEN", "FULL")
    }


def waiting(kind="FINE"):
    return batch_queue(batch=batch_open(kind=kind, by="m", at=MORNING))


def test_the_oldest_waiting_batch_goes_to_one_worker_only():
    first, second = waiting(), waiting()
    assert batch_claim() == first
    assert batch_claim() == second
    assert batch_claim() is None


def test_progress_is_visible_while_it_runs_and_forgotten_afterwards():
    batch = batch_run(batch=waiting())
    assert RUNS == [1]
    assert (batch.state, batch.done, batch.total) == ("APPLIED", 2, 2)
    assert progress.read(batch.pk) is None


def test_what_is_refused_says_why_and_what_breaks_is_not_shown_raw():
    assert batch_run(batch=waiting("REFUSING")).message == "Row 7 has no address. Add one."
    broken = waiting("BROKEN")
    with pytest.raises(ZeroDivisionError):
        batch_run(batch=broken)
    broken.refresh_from_db()
    assert broken.state == Batch.State.REFUSED
    assert "did not expect" in broken.message


def test_a_batch_that_meets_a_full_disk_says_so():
    full = waiting("FULL")
    with pytest.raises(OSError, match="space"):
        batch_run(batch=full)
    full.refresh_from_db()
    assert (full.state, full.message) == ("REFUSED", DISK_FULL)


def test_a_row_that_did_not_learn_that_its_file_went_names_no_other_file(tmp_path):
    (tmp_path / "lines.csv").write_text("a,b")
    opened = [
        batch_open(kind="FINE", by="m", at=MORNING, file=tmp_path / "lines.csv") for _ in "12"
    ]
    opened[0].file.storage.delete(opened[0].file.name)
    opened.append(batch_open(kind="FINE", by="m", at=MORNING, file=tmp_path / "lines.csv"))
    assert len({batch.file.name for batch in opened}) == 3
    assert {batch.file_name for batch in opened} == {"lines.csv"}


def test_a_waiting_batch_is_taken_out_of_the_queue_and_a_running_one_stops_at_its_next_report():
    batch = waiting()
    batch_stop(batch=batch)
    assert batch_claim() is None
    running = waiting()
    progress.ask_to_stop(running.pk)
    assert batch_run(batch=running).state == Batch.State.STOPPED


def test_a_wish_to_stop_that_came_too_late_does_not_stop_the_next_step():
    batch = batch_run(batch=waiting())
    batch_stop(batch=batch)
    assert batch_run(batch=batch_queue(batch=batch)).state == Batch.State.APPLIED


def test_a_claimed_batch_says_whether_it_is_checked_or_applied():
    for step, state in (("CHECK", "CHECKING"), ("APPLY", "APPLYING")):
        batch_queue(batch=batch_open(kind="FINE", by="m", at=MORNING), step=step)
        assert batch_claim().state == state


def test_a_batch_that_kills_every_worker_is_refused_and_the_next_has_its_turn():
    deadly, patient = waiting(), waiting()
    for _ in range(MOST_TAKEN_UP):
        assert batch_claim() == deadly
        progress.clear(deadly.pk)  # as if its worker had never been
        assert batches_recover() == 1
    assert batch_claim() == deadly
    progress.clear(deadly.pk)
    batches_recover()
    deadly.refresh_from_db()
    assert deadly.state == Batch.State.REFUSED
    assert "short of memory" in deadly.message
    assert batch_claim() == patient
    batch_queue(batch=deadly)
    batch_claim(), progress.clear(deadly.pk), batches_recover()
    deadly.refresh_from_db()
    assert deadly.state == Batch.State.QUEUED  # a person started it again


@pytest.mark.parametrize(("silent_s", "left"), [(5, False), (15, on_postgresql), (700, True)])
def test_what_another_machine_left_is_known_by_the_database_at_once_or_by_its_silence(
    silent_s, left
):
    batch = waiting()
    batch_claim()
    note = progress._folder() / f"{batch.pk}.json"
    elsewhere = {"host": "elsewhere", "at": time.time() - silent_s}
    note.write_text(json.dumps(json.loads(note.read_text()) | elsewhere))
    assert batches_recover() == (left() if callable(left) else left)


def test_a_batch_whose_worker_was_killed_waits_again_and_a_living_one_is_left_alone():
    killed, living = waiting(), waiting()
    batch_claim(), batch_claim()
    note = progress._folder() / f"{killed.pk}.json"
    gone = json.loads(note.read_text()) | {"pid": 2**22 + 1, "host": socket.gethostname()}
    note.write_text(json.dumps(gone))
    assert batches_recover() == 1
    killed.refresh_from_db(), living.refresh_from_db()
    assert (killed.state, living.state) == ("QUEUED", "APPLYING")
    note = progress._folder() / f"{living.pk}.json"
    after_a_restart = json.loads(note.read_text()) | {"born": "another boot 7"}
    note.write_text(json.dumps(after_a_restart))  # the number now belongs to another process
    assert batches_recover() == 1
    batch_claim(), batch_claim()
    other = json.loads((progress._folder() / f"{living.pk}.json").read_text())
    assert other["pid"] == os.getpid()
    (progress._folder() / f"{living.pk}.json").write_text(
        json.dumps(other | {"host": "elsewhere", "at": time.time() - 3600})
    )
    batches_recover()
    living.refresh_from_db()
    assert living.state == "QUEUED"
