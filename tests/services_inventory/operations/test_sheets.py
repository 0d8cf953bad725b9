"""A workbook of several sheets: the others are taken in from the file that is kept."""

import openpyxl
import pytest
from django.urls import reverse

from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_open
from tests.services_inventory.people import STAFF, browser_of

from .takes import APRIL, ELM, HEADER, MILL, OAK, run

pytestmark = pytest.mark.django_db


@pytest.fixture
def taken(tmp_path) -> Batch:
    """The first sheet of a workbook of two, taken in."""
    book = openpyxl.Workbook()
    for name, rows in (("West", (MILL, OAK)), ("East ward", (ELM,))):
        sheet = book.create_sheet(name)
        for row in (HEADER, *rows):
            sheet.append(row)
    book.remove(book.worksheets[0])
    book.save(tmp_path / "cards.xlsx")
    given = {"recorded_at": APRIL.isoformat(), "source": "tap cards", "sheet": "West"}
    batch = batch_open(
        kind="INTAKE", by="clerk", at=APRIL, file=tmp_path / "cards.xlsx", parameters=given
    )
    run(batch)
    return batch


def test_the_next_sheet_is_taken_in_without_another_upload(taken):
    client = browser_of(STAFF)
    page = client.get(reverse("batch", args=[taken.pk])).content.decode()
    assert 'value="East ward"' in page and 'value="West"' not in page
    answer = client.post(reverse("batch_sheet", args=[taken.pk]), {"sheet": "East ward"})
    opened = Batch.objects.latest("pk")
    assert answer.url == reverse("batch_columns", args=[opened.pk])
    assert (opened.file_sha256, opened.file_name) == (taken.file_sha256, "cards.xlsx")
    assert opened.parameters["source"] == "tap cards"
    assert "sheet “East ward”" in client.get(answer.url).content.decode()
    assert run(opened)["new"] == 1
    assert ServiceLine.objects.filter(location_id="L3").exists()
    assert opened.result["sheets"] == ["West"]
    page = client.get(reverse("batch", args=[opened.pk])).content.decode()
    assert f"West (taken in, batch {taken.pk})" in page


def test_a_sheet_that_is_not_there_or_a_file_that_is_gone_is_refused(taken):
    client = browser_of(STAFF)
    page = reverse("batch_sheet", args=[taken.pk])
    told = client.post(page, {"sheet": "South"}, follow=True).content.decode()
    assert "no other sheet of that name" in told
    taken.file.storage.delete(taken.file.name)
    told = client.post(page, {"sheet": "East ward"}, follow=True).content.decode()
    assert "Upload it again" in told
    assert Batch.objects.count() == 1
