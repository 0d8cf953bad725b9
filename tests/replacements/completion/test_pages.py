"""The pages of drops and devices: who may, and what they say."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook

from replacements.models import DeviceToken
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_run
from tests.replacements.completion.drops import files_of, filled, zipped
from tests.replacements.factories import LATER, contractor, order, started, user

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.completion.test_pages.moment"


def moment():
    """Return the moment of the pages."""
    return LATER


@pytest.fixture
def company(db):
    return contractor()


def sent(client, files, **how):
    """Send files to the page of drops."""
    return client.post("/work/drops/", {"files": files}, follow=True, **how)


@pytest.mark.parametrize("as_zip", [True, False])
def test_files_or_a_zip_become_a_drop_with_a_verdict_for_each_row(client, company, as_zip):
    good, bad = started(order(company)), started(order(company))
    files = {"form.xlsx": filled([good, bad], rows={bad.number: {"finished_on": "soon"}})}
    files |= files_of(good)
    client.force_login(user("crew", "Contractor", company))
    upload = [zipped(files)] if as_zip else [SimpleUploadedFile(n, c) for n, c in files.items()]
    page = sent(client, upload)
    batch = Batch.objects.get()
    assert page.redirect_chain == [(f"/work/drops/{batch.pk}/", 302)]
    assert batch.state == Batch.State.QUEUED
    assert batch.requested_by == "crew"
    batch_run(batch=batch)
    page = client.get(f"/work/drops/{batch.pk}/").content.decode()
    assert "accepted for review" in page
    assert "G4: This is no day of the calendar" in page
    back = client.get(f"/work/drops/{batch.pk}/returned.xlsx")
    assert load_workbook(BytesIO(back.content))["Records"]["A3"].value == bad.number
    assert client.get(f"/work/drops/{batch.pk}/progress/").status_code == 200


def test_other_companies_find_no_drop_and_the_utility_only_looks(client, company):
    client.force_login(user("crew", "Contractor", company))
    sent(client, [SimpleUploadedFile("form.xlsx", b"x")])
    pk = Batch.objects.get().pk
    client.force_login(user("rival", "Contractor", contractor()))
    for ending in ("", "progress/", "returned.xlsx"):
        assert client.get(f"/work/drops/{pk}/{ending}").status_code == 404
    assert client.post(f"/work/drops/{pk}/stop/").status_code == 404
    client.force_login(user("manager", "Program manager"))
    assert client.get(f"/work/drops/{pk}/").status_code == 200
    sent(client, [SimpleUploadedFile("form.xlsx", b"x")])
    assert Batch.objects.count() == 1


def test_nothing_chosen_and_two_files_of_one_name_are_told(client, company):
    client.force_login(user("crew", "Contractor", company))
    assert "Choose the filled form" in client.post("/work/drops/").content.decode()
    same = [SimpleUploadedFile("a.jpg", b"1"), SimpleUploadedFile("A.JPG", b"2")]
    assert "Two files are named" in sent(client, same).content.decode()
    assert Batch.objects.count() == 0


def test_a_device_is_let_in_once_shown_and_shut_out(client, company):
    client.force_login(user("crew", "Contractor", company))
    page = client.post("/work/devices/", {"name": "Truck 4", "days": 30})
    secret = page.context["secret"]
    assert secret in page.content.decode()
    assert page["Cache-Control"] == "no-store"
    assert secret not in client.get("/work/devices/").content.decode()
    headers = {"Authorization": f"Bearer {secret}"}
    assert client.get("/api/v1/device/", headers=headers).json()["device"] == "Truck 4"
    token = DeviceToken.objects.get()
    client.force_login(user("rival", "Contractor", contractor()))
    assert client.post(f"/work/devices/{token.pk}/shut-out/").status_code == 404
    client.force_login(token.user)
    client.post(f"/work/devices/{token.pk}/shut-out/")
    assert client.get("/api/v1/device/", headers=headers).status_code == 401
    client.force_login(user("manager", "Program manager"))
    assert client.get("/work/devices/").status_code == 403
