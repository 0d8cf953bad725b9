"""Files in a store that several machines share: kept, read back, and refused where altered."""

import os
import socket
import tarfile
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import boto3
import pytest
from botocore.exceptions import BotoCoreError
from django.core.exceptions import ImproperlyConfigured
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from moto.server import ThreadedMotoServer

from program import environment
from program.operations.archiving import archive_write
from program.operations.plan_documents import plan_document_check, plan_document_freeze
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_freeze
from program.queries.seals import files_are_as_stored
from program.roles import sync_roles
from services_inventory.command_faults import sentence_of
from services_inventory.kept_files import FETCHED, all_handed_over, local_path, store_written
from services_inventory.models import Batch, Document
from services_inventory.operations.batches import batch_open
from services_inventory.operations.documents import document_store
from services_inventory.operations.left_over import store_tidied
from services_inventory.queries.batches import table_of
from services_inventory.templatetags.one_act import FIELD
from tests.program.operations.factories import NOW, TODAY, standing_town
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import contractor, order, user

pytestmark = pytest.mark.one_engine
BUCKET = "a-utility"


@pytest.fixture(scope="module")
def server():
    running = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    running.start()
    yield "{}:{}".format(*running.get_host_and_port())
    running.stop()


@pytest.fixture
def bucket(server, settings, monkeypatch):
    """An empty bucket that the program keeps its files in."""
    resource = boto3.resource(
        "s3", endpoint_url=f"http://{server}", region_name="us-east-1",
        aws_access_key_id="key", aws_secret_access_key="sec/ret",
    )  # fmt: skip
    bucket = resource.create_bucket(Bucket=BUCKET)
    bucket.objects.delete()
    monkeypatch.setenv("FILES_URL", f"http://key:sec%2Fret@{server}/{BUCKET}")
    settings.STORAGES = {**settings.STORAGES, **environment.storages("FILES_URL")}
    return bucket


def keys(bucket) -> set[str]:
    return {one.key for one in bucket.objects.all()}


def alter(bucket, key: str) -> None:
    bucket.put_object(Key=key, Body=bucket.Object(key).get()["Body"].read()[:-1] + b"~")


def test_a_photo_is_kept_sent_and_not_sent_once_it_was_altered(db, bucket, client):
    picture = jpeg()
    document = document_store(
        file=BytesIO(picture), name="a card.jpg", kind="CARD", by="clerk", at=NOW,
        allowed=("image/jpeg",), limit_bytes=10**6,
    )  # fmt: skip
    key = f"files/{document.file.name}"
    assert keys(bucket) == {key} and bucket.Object(key).get()["Body"].read() == picture
    client.force_login(user("clerk", role="Compliance staff"))
    page = f"/inventory/documents/{document.pk}/"
    sent = client.get(page)
    assert b"".join(sent.streaming_content) == picture
    assert int(sent["Content-Length"]) == len(picture)
    assert [*files_are_as_stored()] == []
    alter(bucket, key)
    refused = client.get(page)
    assert refused.status_code == 404 and "altered" in refused.content.decode()
    assert "its file was altered" in " ".join(files_are_as_stored())
    bucket.Object(key).delete()
    assert "missing" in client.get(page).content.decode()
    assert "its file is missing" in " ".join(files_are_as_stored())


def test_an_uploaded_table_is_read_by_any_machine_and_its_copy_goes_when_nobody_needs_it(
    db, bucket, tmp_path, settings
):
    source = tmp_path / "lines.csv"
    source.write_text("address,material\n12 Elm St,lead\n")
    opened = [batch_open(kind="INTAKE", by="m", at=NOW, file=source) for _ in "12"]
    assert keys(bucket) == {f"files/{one.file.name}" for one in opened}
    assert opened[0].file_sha256 == sha256(source.read_bytes()).hexdigest()
    assert opened[0].file_bytes == source.stat().st_size
    settings.DATA_DIR = tmp_path / "another machine"
    batch = Batch.objects.get(pk=opened[0].pk)
    assert [cells for _, cells in table_of(batch).rows()] == [["12 Elm St", "lead"]]
    copy = local_path(batch.file)
    assert copy.is_relative_to(settings.DATA_DIR / FETCHED)
    os.utime(copy, (0, 0))
    local_path(opened[1].file)
    assert not copy.exists()
    assert local_path(batch.file).read_bytes() == source.read_bytes()


@pytest.fixture
def filed(db, bucket):
    standing_town()
    return submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)


def test_a_submission_frozen_on_one_machine_is_sent_and_verified_on_another(
    filed, bucket, client, tmp_path, settings
):
    names = {file.path for file in filed.files.all()}
    assert keys(bucket) == names and len(names) == 9
    assert not list((tmp_path / "submissions").rglob("*.csv"))
    settings.DATA_DIR = tmp_path / "another machine"
    found = submission_verify(submission=filed, at=NOW)
    assert found.agrees and "same to the byte" in " ".join(found.agreements)
    client.force_login(user("c", role="Compliance staff"))
    file = filed.files.get(kind="csv")
    page = reverse("submission_file", args=[2030, 1, "csv"])
    sent = b"".join(client.get(page).streaming_content)
    assert sha256(sent).hexdigest() == file.sha256
    whole = BytesIO(
        b"".join(client.get(reverse("submission_archive", args=[2030, 1])).streaming_content)
    )
    assert ZipFile(whole).read(Path(file.path).name) == sent
    alter(bucket, file.path)
    assert "altered" in client.get(page).content.decode()
    assert "is not the file that was frozen" in " ".join(
        submission_verify(submission=filed, at=NOW, rebuild=False).differences
    )


def test_a_plan_document_and_the_archive_of_the_record_hold_what_is_in_the_store(
    filed, bucket, tmp_path
):
    document = plan_document_freeze(
        as_of=TODAY, what_changed="", by="c", at=NOW, is_draft_meant=True
    )
    assert plan_document_check(document) == ""
    archive_write(tmp_path / "archive", day=TODAY, at=NOW)
    for name in (document.path, *filed.files.values_list("path", flat=True)):
        kept = tmp_path / "archive" / "files" / name
        assert kept.read_bytes() == bucket.Object(name).get()["Body"].read()
    alter(bucket, document.path)
    assert "is not the file that was frozen" in plan_document_check(document)


def test_a_store_that_is_away_is_said_and_nothing_is_saved(
    filed, bucket, client, settings, monkeypatch, tmp_path
):
    client.raise_request_exception = False
    client.force_login(user("c", role="Compliance staff"))
    page = reverse("submission_file", args=[2030, 1, "csv"])
    intake, boundaries = "/inventory/intake/", {"kind": "BOUNDARIES", FIELD: "a" * 32}
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))  # nobody listens there
        address = "{}:{}".format(*free.getsockname())
        with monkeypatch.context() as away:
            away.setenv("FILES_URL", f"http://key:secret@{address}/{BUCKET}")
            here, there = settings.STORAGES, environment.storages("FILES_URL")
            settings.STORAGES = {**here, **there}
            boundaries["file"] = SimpleUploadedFile("a.csv", b"name,wkt\n")
            for answer in (client.get(page), client.post(intake, boundaries)):
                assert answer.status_code == 503
                assert "store that files are kept in does not answer" in answer.content.decode()
            with pytest.raises(BotoCoreError) as told:
                [*files_are_as_stored()]
            assert "does not answer" in sentence_of(told.value)
            settings.STORAGES = here
    assert not Batch.objects.exists()
    assert b"".join(client.get(page).streaming_content)
    boundaries["file"] = SimpleUploadedFile("a.csv", b"name,wkt\n")
    assert client.post(intake, boundaries).status_code == 302  # the form was not used up
    assert Batch.objects.count() == 1


def test_a_photo_in_pieces_may_come_by_several_machines(db, bucket, client, settings, tmp_path):
    sync_roles()
    job, photo = order(contractor()), jpeg()
    client.force_login(user("crew", "Contractor", job.contractor))
    page = f"/work/phone/send/{job.pk}/photos/k-photo-0/"
    for start, end in ((0, 300), (300, len(photo))):
        settings.DATA_DIR = tmp_path / f"machine {start}"
        said = {"content-range": f"bytes {start}-{end - 1}/{len(photo)}"}
        taken = client.put(page, photo[start:end], "application/octet-stream", headers=said)
        assert taken.json() == {"received": end}
    told = {"name": "IMG_1.jpg", "kind": "OLD_PIPE"}
    kept = client.post(page, told, "application/json", headers={"idempotency-key": "k-photo-0"})
    assert kept.status_code == 201
    assert keys(bucket) == {f"files/{Document.objects.get().file.name}"}  # and no piece of it


def test_what_no_row_names_leaves_the_store_once_nobody_can_be_at_it(
    filed, bucket, tmp_path, monkeypatch
):
    (tmp_path / "a.csv").write_text("address\n12 Elm St\n")
    batch_open(kind="INTAKE", by="m", at=NOW, file=tmp_path / "a.csv")
    before = keys(bucket)
    left = {"files/batches/2030/a.csv", "files/documents/b.jpg", "parts/.unfinished-1/0-9"}
    for key in left:
        bucket.put_object(Key=key, Body=b"left over")
    assert store_tidied() == 0 and keys(bucket) == before | left
    monkeypatch.setattr("services_inventory.operations.left_over.STORED_S", -60)
    assert store_tidied() == 3 and keys(bucket) == before


def test_a_tar_of_the_store_can_be_put_back(filed, bucket, tmp_path, settings):
    content = {key: bucket.Object(key).get()["Body"].read() for key in keys(bucket)}
    bucket.put_object(Key="parts/.unfinished-1/0-9", Body=b"on its way")
    settings.DATA_DIR = tmp_path / "another machine"
    with (tmp_path / "store.tar.gz").open("wb") as target:
        store_written(target)
    with tarfile.open(tmp_path / "store.tar.gz") as archive:
        archive.extractall(settings.DATA_DIR)
    written = {
        path.relative_to(settings.DATA_DIR).as_posix(): path.read_bytes()
        for path in settings.DATA_DIR.rglob("*") if path.is_file()
    }  # fmt: skip
    assert written == content
    bucket.objects.delete()
    all_handed_over()
    assert {key: bucket.Object(key).get()["Body"].read() for key in keys(bucket)} == content
    assert not [path for path in settings.DATA_DIR.rglob("*") if path.is_file()]


@pytest.mark.parametrize(
    "address", ["s3://a/b", "https://host", "https:///bucket", "https://h/a/b"]
)
def test_an_address_of_no_store_is_told_without_its_key(monkeypatch, address):
    monkeypatch.setenv("FILES_URL", address.replace("://", "://key:secret@", 1))
    with pytest.raises(ImproperlyConfigured, match="FILES_URL") as told:
        environment.storages("FILES_URL")
    assert "secret" not in str(told.value)
