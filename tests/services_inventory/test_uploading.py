"""Uploads on their way in: held while they come, removed once nobody holds them."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import TemporaryUploadedFile
from django.core.management import call_command

from services_inventory import uploading
from services_inventory.models import Batch, Document
from services_inventory.operations.batches import batch_open
from services_inventory.operations.documents import document_store
from services_inventory.progress import UNFINISHED
from services_inventory.today import now
from tests.source_files import ROOT

# A web process that is killed while it receives a file of 3 MB: one that never says that it ends.
KILLED = """
import os, signal, sys
import django
django.setup()
from django.conf import settings
from django.test import RequestFactory
from django.core.files.uploadedfile import SimpleUploadedFile
from services_inventory import uploading
def die(self, *args): os.kill(os.getpid(), signal.SIGKILL)
uploading.HoldingUploadHandler.file_complete = die
request = RequestFactory().post("/", {"file": SimpleUploadedFile("a.csv", b"x" * 3 * 1024**2)})
request.FILES
"""


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.FILE_UPLOAD_TEMP_DIR = tmp_path / "uploading"
    settings.FILE_UPLOAD_TEMP_DIR.mkdir()


def aged(*paths: Path, hours: float = 2) -> None:
    """Let files look as if nothing was written to them for hours."""
    for path in paths:
        os.utime(path, (time.time() - hours * 3600,) * 2)


def left() -> list[str]:
    """Return the names of the uploads that are there."""
    return sorted(path.name for path in Path(uploading.settings.FILE_UPLOAD_TEMP_DIR).iterdir())


def test_what_a_killed_web_process_was_receiving_goes_at_the_next_start(tmp_path, settings):
    ran = subprocess.run(
        [sys.executable, "-c", KILLED],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "program.settings",
            "DATA_DIR": str(tmp_path),
            "DATABASE_URL": "",
        },
        timeout=120,
    )
    assert ran.returncode == -9
    assert len(left()) == 1  # it really left something behind
    aged(*settings.FILE_UPLOAD_TEMP_DIR.iterdir(), hours=0.01)
    assert uploading.uploads_let_go() == 1
    assert left() == []


def test_an_upload_that_still_comes_is_left_alone_however_slow():
    coming = TemporaryUploadedFile("a.csv", "text/csv", 0, None)
    uploading.hold(coming)
    path = Path(coming.temporary_file_path())
    aged(path, hours=48)
    assert uploading.uploads_let_go() == 0
    assert path.exists()
    coming.close()
    assert left() == []


@pytest.fixture
def any_age(monkeypatch):
    """Let whatever is there be old enough; a file's own times can't be set as a move sets them."""
    monkeypatch.setattr("services_inventory.operations.left_over.IN_USE_S", -1)


@pytest.mark.django_db
def test_kept_copies_without_a_row_and_unfinished_folders_go_when_the_worker_starts(
    settings, tmp_path, any_age
):
    at = now()
    kept = batch_open(kind="INTAKE", by="c", at=at, file=ContentFile(b"a,b\n", name="kept.csv"))
    lost = batch_open(kind="INTAKE", by="c", at=at, file=ContentFile(b"a,b\n", name="lost.csv"))
    photo = document_store(
        file=ContentFile(b"%PDF-1"), name="a.pdf", kind="PAPER", by="c", at=at,
        allowed=("application/pdf",), limit_bytes=99,
    )  # fmt: skip
    gone = Path(lost.file.path)
    Batch.objects.filter(pk=lost.pk).delete()  # as if its row was never written
    unfinished = tmp_path / "submissions" / f"{UNFINISHED}2030-x"
    unfinished.mkdir(parents=True)
    (unfinished / "rows").write_text("half")
    filed = tmp_path / "submissions" / "2030-r1"
    filed.mkdir()
    call_command("worker", once=True)
    assert not gone.exists()
    assert not unfinished.exists()
    assert filed.exists()
    assert Path(kept.file.path).exists()
    assert Path(Document.objects.get(pk=photo.pk).file.path).exists()


@pytest.mark.django_db
def test_what_may_still_be_in_use_is_left_alone(tmp_path):
    lost = batch_open(kind="INTAKE", by="c", at=now(), file=ContentFile(b"a,b\n", name="lost.csv"))
    path = Path(lost.file.path)
    Batch.objects.filter(pk=lost.pk).delete()
    young = tmp_path / "letters" / f"{UNFINISHED}x"
    young.mkdir(parents=True)
    call_command("worker", once=True)
    assert path.exists()
    assert young.exists()


@pytest.mark.django_db
def test_nothing_goes_while_a_batch_is_at_work(any_age):
    lost = batch_open(kind="INTAKE", by="c", at=now(), file=ContentFile(b"a,b\n", name="lost.csv"))
    path = Path(lost.file.path)
    Batch.objects.filter(pk=lost.pk).delete()
    from services_inventory import progress
    from services_inventory.operations.left_over import left_over_remove

    running = batch_open(kind="INTAKE", by="c", at=now())
    Batch.objects.filter(pk=running.pk).update(state=Batch.State.APPLYING)
    progress.write(running.pk, 1, 2)
    left_over_remove()
    assert path.exists()


def test_the_digest_of_an_upload_is_that_of_its_content_and_leaves_it_at_its_beginning():
    content = os.urandom(3 * 1024**2)
    file = TemporaryUploadedFile("a.csv", "text/csv", len(content), None)
    file.write(content)
    import hashlib

    assert uploading.sha256_of_upload(file) == hashlib.sha256(content).hexdigest()
    assert file.read() == content
