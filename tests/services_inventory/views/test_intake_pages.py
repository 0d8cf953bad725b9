"""Taking in a file in the browser's way: upload, columns, dry run, taking in, held rows, undo."""

import html
import io
import json
import subprocess
import time
from datetime import date

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.core.management import call_command
from django.urls import reverse

from program.models import Utility
from program.roles import COMPLIANCE
from services_inventory import progress
from services_inventory.models import Batch, MatchQuestion, SavedColumns, ServiceLine
from services_inventory.queries.counts import category_counts, category_counts_on
from tests.services_inventory.factories import line_of

pytestmark = pytest.mark.django_db
FILE = (
    "Svc_No,PARCEL ADDR,UTIL_SIDE_MATL,CUST_SIDE_MATL,Install Yr,LAT,LON,Verified how\n"
    "N-1,12 Mill St,Pb,Cu,1920,41.45,-100.33,tap card\n"
    "N-2,14 Mill St,Cu,copper,1990,41.451,-100.331,tap card\n"
    "N-3,16 Mill St,Pb,Cu,20255,41.452,-100.332,tap card\n"
)


@pytest.fixture
def staff(client):
    user = get_user_model().objects.create_user("bertram", password="x")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    return client


def upload(client, text=FILE, name="lines.csv", **more):
    file = io.BytesIO(text.encode() if isinstance(text, str) else text)
    file.name = name
    return client.post(reverse("batch_list"), {"kind": "INTAKE", "file": file, **more})


def chosen(page) -> dict:
    """Return the form of the columns page as it stands when nobody corrects it."""
    rows = page.context["rows"]
    return {"date_order": "MDY"} | {f"column-{row['position']}": row["field"] for row in rows}


def work():
    call_command("worker", "--once", stdout=io.StringIO())


def test_a_file_is_uploaded_checked_taken_in_and_withdrawn(staff):
    columns = staff.get(upload(staff)["Location"])
    form = chosen(columns)
    assert form["column-2"] == "system_material"
    batch = Batch.objects.get()
    page = staff.post(reverse("batch_columns", args=[batch.pk]), form)
    assert page["Location"] == reverse("batch", args=[batch.pk])
    work()
    page = staff.get(page["Location"])
    batch.refresh_from_db()
    assert batch.state == Batch.State.CHECKED, batch.message
    assert batch.counts == {"new": 2, "changed": 0, "unchanged": 0, "held": 1, "total": 3}
    assert ServiceLine.objects.count() == 0
    assert b"20255" in page.content
    held = b"".join(staff.get(reverse("batch_held", args=[batch.pk])).streaming_content).decode()
    assert "16 Mill St" in held
    assert "12 Mill St" not in held
    staff.post(reverse("batch_apply", args=[batch.pk]))
    work()
    assert category_counts() == {"LEAD": 1, "GRR": 0, "NON_LEAD": 1, "UNKNOWN": 0, "total": 2}
    staff.post(reverse("batch_undo", args=[batch.pk]), {"how": "FROM_TODAY"})
    work()
    assert category_counts()["total"] == 0


def test_corrected_columns_are_remembered_for_the_next_file_of_the_same_headings(staff):
    form = chosen(staff.get(upload(staff)["Location"])) | {"column-4": ""}
    staff.post(reverse("batch_columns", args=[Batch.objects.get().pk]), form)
    assert SavedColumns.objects.get().saved_by == "bertram"
    again = staff.get(upload(staff)["Location"])
    assert chosen(again)["column-4"] == ""
    assert b"as bertram saved them" in again.content


def test_one_field_for_two_columns_is_refused_with_both_names(staff):
    form = chosen(staff.get(upload(staff)["Location"])) | {"column-3": "system_material"}
    page = staff.post(reverse("batch_columns", args=[Batch.objects.get().pk]), form)
    assert page.status_code == 422
    assert b"UTIL_SIDE_MATL" in page.content
    assert Batch.objects.get().state == Batch.State.RECEIVED


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"\x89PNG\r\n\x1a\n rest", "a picture (PNG)"),
        ("a,a\n1,2\n", "more than one column"),
        ("only,a,header\n", "no rows"),
    ],
)
def test_what_is_no_table_gets_its_sentence_and_nothing_is_written(staff, text, words):
    page = staff.get(upload(staff, text)["Location"])
    assert page.status_code == 422
    assert words in page.content.decode()
    assert ServiceLine.objects.count() == 0


def test_boundaries_that_cannot_be_read_are_refused_on_the_batch_page(staff):
    page = upload(staff, kind="BOUNDARIES")
    work()
    assert b"not a map of boundaries" in staff.get(page["Location"]).content


def test_a_row_that_may_be_a_known_line_is_decided_by_a_person_and_stays_decided(staff):
    staff.post(
        reverse("batch_columns", args=[_uploaded(staff, FILE)]),
        chosen(staff.get(reverse("batch_columns", args=[Batch.objects.last().pk]))),
    )
    batch = Batch.objects.last()
    work()
    staff.post(reverse("batch_apply", args=[batch.pk]))
    work()
    line = ServiceLine.objects.get(location_id="N-2")
    question = MatchQuestion.objects.create(
        batch=batch,
        row_number=9,
        given_key="14 MILLL ST",
        given={"address": "14 Milll St", "reason": "The address is close to one known."},
        candidates=[
            {
                "line_id": line.pk,
                "location_id": "N-2",
                "address": "14 Mill St",
                "score": 96,
                "meters": None,
            }
        ],
    )
    page = staff.get(reverse("match_list"))
    assert b"14 Milll St" in page.content
    staff.post(reverse("match_decide", args=[question.pk]), {"line": line.pk})
    question.refresh_from_db()
    made = question.decision
    assert (list(made.lines.all()), made.decided_by) == ([line], "bertram")
    assert b"14 Milll St" not in staff.get(reverse("match_list")).content


def _uploaded(client, text) -> int:
    upload(client, text)
    return Batch.objects.last().pk


def test_the_map_gets_the_boundaries_and_the_lines_in_view(staff):
    staff.post(
        reverse("batch_columns", args=[_uploaded(staff, FILE)]),
        chosen(staff.get(reverse("batch_columns", args=[Batch.objects.last().pk]))),
    )
    work()
    staff.post(reverse("batch_apply", args=[Batch.objects.last().pk]))
    work()
    found = staff.get(reverse("line_points"), {"box": "-100.3305,41.44,-100.32,41.46"}).json()
    assert [f["properties"]["location_id"] for f in found["features"]] == ["N-1"]
    assert found["features"][0]["geometry"]["coordinates"] == [-100.33, 41.45]
    assert staff.get(reverse("line_points"), {"box": "here"}).status_code == 400
    assert staff.get(reverse("neighborhood_shapes")).json()["features"] == []


def test_a_file_can_be_uploaded_as_true_since_a_day_and_its_page_says_so(staff, settings):
    settings.TODAY = "tests.services_inventory.people.today"
    settings.NOW = "tests.services_inventory.people.now"
    refused = upload(staff, true_since="2028-03-15")
    assert refused.status_code == 422
    assert "Nothing is on record yet" in refused.content.decode()
    assert "has not come yet" in upload(staff, true_since="2028-04-02").content.decode()
    assert not Batch.objects.exists()
    line_of("COPPER", "COPPER")
    columns = staff.get(upload(staff, true_since="2028-03-15")["Location"])
    batch = Batch.objects.get()
    staff.post(reverse("batch_columns", args=[batch.pk]), chosen(columns))
    work()
    staff.post(reverse("batch_apply", args=[batch.pk]))
    work()
    page = staff.get(reverse("batch", args=[batch.pk])).content.decode()
    assert "Mar 15, 2028; past days follow from then on" in page
    assert category_counts_on(date(2028, 3, 14))["total"] == 1
    assert category_counts_on(date(2028, 3, 15))["total"] == 3


def test_what_was_left_out_of_a_file_is_said_on_its_page(staff):
    text = "id,address,material of customer side,source\nN-1,12 Mill St,copper,my aunt\n"
    columns = staff.get(upload(staff, text)["Location"])
    batch = Batch.objects.get()
    staff.post(reverse("batch_columns", args=[batch.pk]), chosen(columns))
    work()
    batch.refresh_from_db()
    page = html.unescape(staff.get(reverse("batch", args=[batch.pk])).content.decode())
    assert "1 row is taken in without what stands there" in " ".join(batch.result["notes"])
    for sentence in batch.result["notes"]:
        assert sentence in page


def test_a_page_that_waits_says_since_when_no_worker_has_reported(staff, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    upload(staff, kind="BOUNDARIES")
    page = reverse("batch", args=[Batch.objects.get().pk])
    assert "No worker has ever reported" in staff.get(page).content.decode()
    progress.worker_reports()
    (mine,) = progress.workers()
    said = staff.get(page).content.decode()
    assert f"Waits for the next worker: {mine}, there since" in said
    assert "reported since" not in said
    Utility.objects.create(name="Willow Water", clock_stands_at=date(2031, 1, 15))
    assert f"Waits for the next worker: {mine}" in staff.get(page).content.decode()
    progress.worker_leaves()
    assert f"(the last was {mine})" in staff.get(page).content.decode()
    progress.worker_reports()
    note = tmp_path / "progress" / "workers"
    known = json.loads(note.read_text())
    other = {"at": time.time() - 7200, "since": time.time() - 9000, "host": "other", "pid": 9}
    note.write_text(json.dumps(known | {"other, process 9": other}))
    said = staff.get(page).content.decode()
    assert f"{mine}, there since" in said and "other, process 9 has not reported since" in said
    progress.worker_reports()  # what another machine noted stays
    assert "other, process 9 has not reported since" in staff.get(page).content.decode()
    note.write_text(json.dumps({"other, process 9": other}))
    said = staff.get(page).content.decode()
    assert "No worker has reported since" in said and "manage.py serve" in said
    work()
    assert "No worker has" not in staff.get(page).content.decode()


def test_a_worker_that_died_is_not_told_of_once_another_of_its_machine_reports(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    with subprocess.Popen(["true"]) as ended:
        pass
    progress.worker_reports()
    note, mine = tmp_path / "progress" / "workers", progress.this_process()
    known = json.loads(note.read_text())
    note.write_text(json.dumps(known | {"dead": {**known[mine], "pid": ended.pid}}))
    progress.worker_reports()
    assert {name: one["since"] for name, one in progress.workers().items()} == {
        mine: known[mine]["since"]
    }
