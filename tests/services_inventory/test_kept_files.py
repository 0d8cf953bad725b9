"""Files in a store that several machines share: kept, read back, and refused where altered."""

import os
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import boto3
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse
from moto.server import ThreadedMotoServer

from program import environment
from program.operations.archiving import archive_write
from program.operations.plan_documents import plan_document_check, plan_document_freeze
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_freeze
from program.queries.seals import files_are_as_stored
from services_inventory.kept_files import FETCHED, local_path
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open
from services_inventory.operations.documents import document_store
from services_inventory.queries.batches import table_of
from tests.program.operations.factories import NOW, TODAY, standing_town
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import user

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


@pytest.mark.parametrize(
    "address", ["s3://a/b", "https://host", "https:///bucket", "https://h/a/b"]
)
def test_an_address_of_no_store_is_told_without_its_key(monkeypatch, address):
    monkeypatch.setenv("FILES_URL", address.replace("://", "://key:secret@", 1))
    with pytest.raises(ImproperlyConfigured, match="FILES_URL") as told:
        environment.storages("FILES_URL")
    assert "secret" not in str(told.value)
