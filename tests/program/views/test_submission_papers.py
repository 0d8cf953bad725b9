"""What is handed over of a submission: the ZIP, the page to sign, the schema, what moved."""

import io
import json
import subprocess
import sys
import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from program.operations.submissions import (
    submission_amend,
    submission_certify,
    submission_folder,
)
from program.queries.signing import sheet_said
from program.roles import COMPLIANCE
from program.submissions.signing_sheet import signing_sheet_pdf
from tests.program.operations.factories import (
    NOW,
    TODAY,
    all_yes,
    filed_town,
    found,
    moment,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def first(client):
    lines, submission = filed_town()
    user = User.objects.create_user("compliance")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    return submission, lines


def certify(submission):
    submission_certify(
        submission=submission, name="A. Person", title="Director", statement="As the agency asks.",
        by="compliance", at=NOW, answered=all_yes(submission),
    )  # fmt: skip


def archive(client, revision) -> zipfile.ZipFile:
    answer = client.get(reverse("submission_archive", args=[2030, revision]))
    assert answer.status_code == 200
    return zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))


def test_the_zip_holds_every_file_and_the_certification_once_there_is_one(client, first):
    submission, _ = first
    names = {path.name for path in submission_folder(submission).iterdir()}
    assert set(archive(client, 1).namelist()) == names | {
        "to-sign-2030-revision-1.pdf",
        "recount.py",
        "check-this-submission.html",
    }
    certify(submission)
    both = archive(client, 1)
    assert set(both.namelist()) == names | {
        "certification-2030-revision-1.pdf",
        "recount.py",
        "check-this-submission.html",
    }
    said, _ = text_of(both.read("certification-2030-revision-1.pdf"))
    assert "As the agency asks." in said and submission.digest in said and "A. Person" in said
    assert all(file.sha256 in said for file in submission.files.all())


def test_the_script_in_the_zip_checks_it_alone_and_finds_what_was_tampered_with(
    client, first, tmp_path
):
    folder = tmp_path / "unpacked"
    archive(client, 1).extractall(folder)
    whole = recounted(folder)
    assert whole.returncode == 0, whole.stdout
    assert f"Digest {first[0].digest}" in whole.stdout
    [lines] = folder.glob("*-lines.csv")
    lines.write_text(lines.read_text(encoding="utf-8").replace("NON_LEAD", "LEAD", 1))
    tampered = recounted(folder)
    assert tampered.returncode == 1
    assert f"FAILS  {lines.name} is the file that was frozen" in tampered.stdout
    assert "FAILS  A1: said 6, counted 7" in tampered.stdout
    (folder / "extra.csv").write_text("x")
    assert "FAILS  extra.csv belongs to the submission" in recounted(folder).stdout


def recounted(folder: Path) -> subprocess.CompletedProcess:
    """Run the script as a reviewer would: by Python alone, without this program."""
    command = [sys.executable, "-I", "-S", str(folder / "recount.py")]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_a_zip_with_a_missing_file_is_not_handed_out(client, first):
    for path in submission_folder(first[0]).glob("*.csv"):
        path.unlink()
    assert client.get(reverse("submission_archive", args=[2030, 1])).status_code == 404


def test_the_page_to_sign_says_whether_it_is_certified(client, first):
    page, pages = text_of(client.get(reverse("submission_paper", args=[2030, 1])).content)
    assert "Not certified yet" in page and "NOT CERTIFIED" in page and pages <= 2
    certify(first[0])
    page, pages = text_of(client.get(reverse("submission_paper", args=[2030, 1])).content)
    assert "NOT CERTIFIED" not in page and pages <= 2
    assert "A. Person" in page and first[0].digest in page and "B15" in page


def test_the_page_to_sign_is_two_pages_however_much_there_is_to_say(first):
    said = sheet_said(first[0])
    said["statement"] = "I certify under penalty of law what stands here. " * 30
    said["answers"] = [
        ["A question that is long enough to wrap?", *["Evidence of it. " * 8] * 9]
    ] * 8
    said["files"] = [(f"ZZ0000123-year03-rev2-{n}.csv", "ab" * 32) for n in range(14)]
    content = signing_sheet_pdf(said)
    assert text_of(content)[1] == 2
    assert content == signing_sheet_pdf(said)


def test_every_figure_is_the_same_text_on_page_print_workbook_json_and_csv(client, first):
    """Each cell of the workbook is shown through its own number format."""
    files = {file.kind: file for file in first[0].files.all()}
    root = submission_folder(first[0])
    document = json.loads((root / Path(files["json"].path).name).read_text(encoding="utf-8"))
    wanted = {entry["code"]: entry["text"] for entry in document["summary"]}
    book = openpyxl.load_workbook(root / Path(files["xlsx"].path).name)
    cells = {row[0].value: row[2] for row in book["Summary"].iter_rows() if row[0].value in wanted}
    assert {code: shown(cell) for code, cell in cells.items()} == wanted
    page = client.get(reverse("submission", args=[2030, 1]))
    told = {
        row["code"].replace(", all", "_TO_DATE"): row["value"] for row in page.context["totals"]
    }
    assert told == wanted
    paper = sheet_said(first[0])["figures"]
    assert {code.replace(", all", "_TO_DATE"): text for code, _, text in paper} == wanted
    assert wanted["B11"] == "11.8421%"  # the mean of 2/20, 2/19 and 3/20
    text, _ = text_of(client.get(reverse("submission_paper", args=[2030, 1])).content)
    assert "11.8421%" in text
    year = document["years"][-1]["cumulative_rate"]
    assert (year["text"], year["percent"]) == ("11.8421%", 11.8421)


def shown(cell) -> str:
    """What a spreadsheet shows of a cell, by its number format."""
    value, form = cell.value, cell.number_format
    if isinstance(value, datetime):
        return value.date().isoformat()
    if not isinstance(value, int | float):
        return str(value)
    places = len(form.partition(".")[2].rstrip("%"))
    return f"{value:.{places}%}" if form.endswith("%") else f"{value:,.{places}f}"


def text_of(content: bytes) -> tuple[str, int]:
    """Return the text of a PDF and its number of pages."""
    pages = PdfReader(io.BytesIO(content)).pages
    return "\n".join(page.extract_text() for page in pages), len(pages)


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
