"""What is handed over of a submission: the ZIP, the page to sign, the schema, what moved."""

import io
import json
import zipfile

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse
from jsonschema import Draft202012Validator

from program.operations.submissions import (
    submission_amend,
    submission_certify,
    submission_folder,
    submission_freeze,
    unread_values,
)
from program.roles import COMPLIANCE
from tests.program.operations.factories import NOW, TODAY, found, moment, town, utility

pytestmark = pytest.mark.django_db


@pytest.fixture
def first(client):
    utility()
    lines = town()
    user = User.objects.create_user("compliance")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    submission = submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)
    return submission, lines


def certify(submission):
    submission_certify(
        submission=submission, name="A. Person", title="Director", statement="As the agency asks.",
        by="compliance", at=NOW, acknowledged=tuple(unread_values(submission)),
    )  # fmt: skip


def archive(client, revision) -> zipfile.ZipFile:
    answer = client.get(reverse("submission_archive", args=[2030, revision]))
    assert answer.status_code == 200
    return zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))


def test_the_zip_holds_every_file_and_the_certification_once_there_is_one(client, first):
    submission, _ = first
    names = {path.name for path in submission_folder(submission).iterdir()}
    assert set(archive(client, 1).namelist()) == names
    certify(submission)
    both = archive(client, 1)
    assert set(both.namelist()) == names | {"certification.txt"}
    said = both.read("certification.txt").decode()
    assert "As the agency asks." in said and submission.digest in said and "A. Person" in said


def test_a_zip_with_a_missing_file_is_not_handed_out(client, first):
    for path in submission_folder(first[0]).glob("*.csv"):
        path.unlink()
    assert client.get(reverse("submission_archive", args=[2030, 1])).status_code == 404


def test_the_page_to_sign_says_whether_it_is_certified(client, first):
    page = client.get(reverse("submission_paper", args=[2030, 1])).content.decode()
    assert "Not certified yet" in page
    certify(first[0])
    page = client.get(reverse("submission_paper", args=[2030, 1])).content.decode()
    assert "Not certified yet" not in page
    assert "A. Person" in page and first[0].digest in page and "B15" in page


def test_the_published_schema_is_the_one_the_files_follow(client, first):
    answer = client.get(reverse("submission_schema"))
    schema = answer.json()
    (path,) = (
        path for path in submission_folder(first[0]).glob("*.json") if "manifest" not in path.name
    )
    document = json.loads(path.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    line = schema["$defs"]["line"]
    with open(next(submission_folder(first[0]).glob("*.jsonl")), encoding="utf-8") as rows:
        for row in rows:
            Draft202012Validator(line).validate(json.loads(row))


def test_an_amendment_shows_which_totals_moved(client, first):
    submission, lines = first
    found(lines["unknown"][1], "CUSTOMER", "LEAD", moment(TODAY).date(), moment(TODAY, 16))
    at = moment(TODAY, 17)
    submission_amend(
        submission=submission, what_changed="One more.", by="compliance", at=at, today=TODAY
    )
    page = client.get(reverse("submission", args=[2030, 2])).content.decode()
    assert "Before it was amended" in page and "moved" not in page  # found after the year's end
    assert "Before it was amended" not in (
        client.get(reverse("submission", args=[2030, 1])).content.decode()
    )
