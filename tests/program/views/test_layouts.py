"""The pages of layouts: try, save, compare, restore, up and down, choose for a submission."""

import csv

import openpyxl
import pytest
from django.contrib.auth.models import Group, User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse

from program.models import LayoutVersion, Submission
from program.operations.submission_verify import submission_verify
from program.operations.submissions import submission_files, submission_folder
from program.roles import COMPLIANCE, PROGRAM_MANAGER
from program.submissions.layouts import parse_layout, shipped_layouts
from services_inventory.operations.batches import batch_claim, batch_run
from tests.program.operations.factories import NOW, TODAY, standing_town

pytestmark = pytest.mark.django_db
OWN = """[layout]
id = "county_one"
name = "County one"
dates = "US"
[sheets.lines]
name = "Inventory"
[sheets.lines.columns]
category = "Status"
location_id = "Site"
connector = "Gooseneck"
since = "From"
[codes.category]
LEAD = "Pb"
GRR = "Gv"
UNKNOWN = "?0"
NON_LEAD = "ok"
"""
GOOD = OWN.replace('"?0"', '"open"')


@pytest.fixture(autouse=True)
def _town():
    standing_town()


@pytest.fixture
def staff(client):
    def signed_in(role):
        user = User.objects.create_user(role[:4], password="a long pass phrase")
        user.groups.add(Group.objects.get(name=role))
        client.force_login(user)

    signed_in(COMPLIANCE)
    return signed_in


def send(client, text, do="save", **more):
    return client.post(reverse("layout_edit"), {"text": text, "do": do, **more})


@pytest.mark.usefixtures("staff")
def test_a_trial_shows_the_record_in_the_layouts_words_and_saves_nothing(client):
    page = send(client, GOOD, do="try").content.decode()
    for word in ("Inventory", "Gooseneck", "<td>Pb</td>", "<td>Gv</td>", "<td>09/06/2027</td>"):
        assert word in page
    assert not LayoutVersion.objects.exists()


@pytest.mark.usefixtures("staff")
def test_a_wrong_one_is_not_saved_and_each_fault_has_its_place(client):
    answer = send(client, OWN.replace("since", "sinse"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Line 11, column 1" in page and "Did you mean since" in page
    assert "Line 15, column 1" in page and "would take it for a pattern" in page
    assert "sinse = &quot;From&quot;" in page  # what was typed is still there
    assert not LayoutVersion.objects.exists()


@pytest.mark.usefixtures("staff")
def test_each_saving_is_a_version_with_its_author_and_an_earlier_one_can_come_back(client):
    send(client, GOOD, what_changed="First.")
    send(client, GOOD.replace('"Site"', '"Place"'), based_on=1, what_changed="They say place.")
    page = client.get(reverse("layout", args=["county_one"])).content.decode()
    assert "version 2" in page and "They say place." in page
    assert "-location_id = &quot;Site&quot;" in page and "+location_id = &quot;Place&quot;" in page
    client.post(reverse("layout_restore", args=["county_one", 1]))
    versions = list(LayoutVersion.objects.order_by("version"))
    assert [v.version for v in versions] == [1, 2, 3]
    assert versions[2].text == versions[0].text != versions[1].text
    assert {v.saved_by for v in versions} == {"Comp"}


@pytest.mark.usefixtures("staff")
@pytest.mark.parametrize(
    ("text", "more", "sentence"),
    [
        (GOOD, {}, "Nothing differs from version 1"),
        (GOOD + "# x\n", {"based_on": 0}, "Somebody saved another version meanwhile"),
        ('[layout]\nid = "standard"\nname = "Mine"\n', {}, "ships with the program"),
        ("", {}, "This field is required"),
    ],
)
def test_what_would_lose_something_is_refused_with_a_sentence(client, text, more, sentence):
    send(client, GOOD)
    answer = send(client, text, **more)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert LayoutVersion.objects.count() == 1


@pytest.mark.usefixtures("staff")
def test_a_file_comes_up_in_the_editor_and_goes_down_as_it_was_saved(client):
    file = SimpleUploadedFile("c.toml", b"\xef\xbb\xbf" + GOOD.encode())
    page = client.post(reverse("layout_upload"), {"file": file}).content.decode()
    assert "Gooseneck" in page and not LayoutVersion.objects.exists()
    send(client, GOOD)
    down = client.get(reverse("layout_version_file", args=["county_one", 1]))
    assert down.content.decode() == GOOD
    assert 'filename="county_one-v1.toml"' in down["Content-Disposition"]
    for layout in shipped_layouts():
        text = client.get(reverse("layout_file", args=[layout.id])).content.decode()
        assert parse_layout(text) == layout


@pytest.mark.usefixtures("staff")
@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 200_001, b""])
def test_a_file_that_is_no_text_is_a_sentence(client, content):
    answer = client.post(reverse("layout_upload"), {"file": SimpleUploadedFile("c.toml", content)})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()


def test_who_only_reads_may_not_save(client, staff):
    staff(PROGRAM_MANAGER)
    assert client.get(reverse("layout_list")).status_code == 200
    assert send(client, GOOD).status_code == 403
    assert client.get(reverse("layout", args=["nothing"])).status_code == 404


@pytest.mark.usefixtures("staff")
def test_a_submission_is_frozen_in_the_version_chosen_and_keeps_it(client):
    send(client, GOOD)
    client.post(reverse("submission_freeze", args=[2030]), {"layout": "county_one@1"})
    batch_run(batch=batch_claim())
    submission = Submission.objects.get()
    assert submission.facts["layout_ref"] == "county_one@1"
    send(client, GOOD.replace('"Site"', '"Place"'))  # a later version changes nothing of it
    files = submission_files(2030)
    with open(files["csv"], encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["Status", "Site", "Gooseneck", "From"]
    assert sum(row["Status"] == "Pb" for row in rows) == submission.facts["totals"]["A1"] == 6
    assert "Inventory" in openpyxl.load_workbook(files["xlsx"], read_only=True).sheetnames
    page = client.get(reverse("submission", args=[2030, 1])).content.decode()
    assert "County one, version 1" in page
    assert submission_verify(submission=submission, at=NOW).agrees
    client.post(
        reverse("submission_amend", args=[2030, 1]),
        {"what_changed": "The agency asked for another form.", "layout": "narrow_list"},
    )
    batch_run(batch=batch_claim())
    second = Submission.objects.get(revision=2)
    assert second.facts["layout_ref"] == "narrow_list"
    assert submission_folder(second) != submission_folder(submission)


@pytest.mark.usefixtures("staff")
def test_a_layout_that_is_gone_freezes_nothing(client):
    client.post(reverse("submission_freeze", args=[2030]), {"layout": "county_one@7"})
    assert batch_claim() is None


def test_the_command_takes_a_file_and_names_its_faults(tmp_path):
    wrong = tmp_path / "county.toml"
    wrong.write_text(OWN, encoding="utf-8")
    with pytest.raises(CommandError, match="Line 15, column 1"):
        call_command("annual_submission", "2030", "--out", str(tmp_path), "--layout", str(wrong))
    with pytest.raises(CommandError, match="no layout 'nowhere'"):
        call_command("annual_submission", "2030", "--out", str(tmp_path), "--layout", "nowhere")
    assert not Submission.objects.exists()
    wrong.write_text(GOOD, encoding="utf-8")
    call_command("annual_submission", "2030", "--out", str(tmp_path), "--layout", str(wrong))
    assert Submission.objects.get().facts["layout_ref"] == "county.toml"
    assert TODAY.year == 2031
