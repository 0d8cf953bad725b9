"""A zip of pictures with a list: attached, held, taken off, and what no honest zip is."""

import zipfile

import pytest
from django.urls import reverse

from services_inventory.models import Batch, Document, LineDocument, ServiceLine
from services_inventory.operations.batches import batch_open, batch_run
from services_inventory.operations.photographs import documents_take_back
from services_inventory.queries.photographs import documents_of
from services_inventory.refused import Refused
from tests.services_inventory.operations.takes import APRIL, MILL, OAK, open_file, run
from tests.services_inventory.people import STAFF, browser_of

pytestmark = pytest.mark.django_db
JPEG, PDF = b"\xff\xd8\xff" + b"x" * 50, b"%PDF-1.4 " + b"y" * 50


def zipped(folder, rows, files, name="cards.zip") -> Batch:
    """Return a batch of a zip of these files with a list of these rows."""
    path = folder / name
    with zipfile.ZipFile(path, "w") as archive:
        text = "\n".join(",".join(row) for row in [("line", "file", "page"), *rows])
        archive.writestr("list.csv", text)
        for entry, content in files.items():
            archive.writestr(entry, content)
    return batch_open(kind="DOCUMENTS", by="clerk", at=APRIL, file=path)


def step(batch, name) -> Batch:
    """Run one step of it."""
    batch.parameters = {"step": name}
    batch_run(batch=batch)
    return batch


@pytest.fixture
def town(tmp_path):
    """Return a folder, with two lines in the record."""
    run(open_file(tmp_path, [MILL, OAK]))
    return tmp_path


def line(name) -> ServiceLine:
    """Return a line by its identifier."""
    return ServiceLine.objects.get(location_id=name)


ROWS = [("L1", "Card 7.JPG", "2"), ("40 oak avenue", "card 7.jpg", "2"), ("L2", "b/plan.pdf", ""),
        ("L9", "card 7.jpg", ""), ("L1", "none.jpg", ""), ("L1", "note.jpg", ""),
        ("L1", "card 7.jpg", "x"), ("L1", "a/card 7.jpg", "2")]  # fmt: skip
FILES = {"a/card 7.jpg": JPEG, "b/plan.pdf": PDF, "note.jpg": b"hello", "more.png": b"z",
         "__MACOSX/._x": b"q"}  # fmt: skip


def test_a_card_with_two_addresses_stands_at_both_lines_and_goes_with_its_batch(town):
    batch = step(zipped(town, ROWS, FILES), "CHECK")
    assert batch.state == "CHECKED", batch.message
    assert not Document.objects.exists()
    preview = dict(batch.counts)
    assert preview == {"attached": 3, "held": 5, "total": 8, "files": 2, "lines": 2}
    assert batch.result["unused"] == ["more.png", "note.jpg"]
    held = dict(batch.held_rows.values_list("row_number", "reason"))
    told = ("not in the record", "isn’t in the zip", "no JPEG", "no number", "earlier row")
    assert all(part in held[row] for row, part in enumerate(told, start=5))
    assert step(batch, "APPLY").counts == preview
    assert batch.state == "APPLIED"
    (card,) = documents_of(line("L1"))
    assert (card.document.name, card.page, card.lines) == ("card 7.jpg", 2, 2)
    assert [one.document.content_type for one in documents_of(line("L2"))] == [
        "image/jpeg", "application/pdf",
    ]  # fmt: skip
    documents_take_back(batch=batch, by="clerk", at=APRIL)
    assert documents_of(line("L1")) == documents_of(line("L2")) == []
    assert Document.objects.count() == 2
    with pytest.raises(Refused, match="Nothing of this batch"):
        documents_take_back(batch=batch, by="clerk", at=APRIL)


@pytest.mark.parametrize(
    ("entry", "content", "told"),
    [
        ("../../etc/cron.jpg", JPEG, "leads outside of it"),
        ("/etc/x.jpg", JPEG, "leads outside of it"),
        ("c:\\x.jpg", JPEG, "leads outside of it"),
        ("second.csv", b"a,b", "2 lists"),
    ],
)
def test_a_zip_that_leads_elsewhere_or_has_two_lists_is_refused(town, entry, content, told):
    batch = step(zipped(town, ROWS[:1], {entry: content}), "CHECK")
    assert batch.state == "REFUSED" and told in batch.message
    assert not LineDocument.objects.exists()


def test_a_bomb_a_link_no_zip_and_a_list_without_a_column_are_refused(town):
    bomb = town / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("list.csv", "line,file\nL1,a.jpg")
        archive.writestr("a.jpg", b"\x00" * 300_000_000)
    linked = town / "link.zip"
    with zipfile.ZipFile(linked, "w") as archive:
        entry = zipfile.ZipInfo("a.jpg")
        entry.external_attr = 0o120777 << 16
        archive.writestr(entry, "/etc/passwd")
        archive.writestr("list.csv", "line,file\nL1,a.jpg")
    bare, plain = town / "bare.zip", town / "plain.zip"
    with zipfile.ZipFile(bare, "w") as archive:
        archive.writestr("list.csv", "line,name of it\nL1,a.jpg")
    plain.write_bytes(b"no zip at all")
    told = {bomb: "no honest", linked: "holds a link", bare: "lacks the column", plain: "no zip"}
    for path, words in told.items():
        batch = step(batch_open(kind="DOCUMENTS", by="c", at=APRIL, file=path), "CHECK")
        assert batch.state == "REFUSED" and words in batch.message, (path.name, batch.message)


def test_the_pages_show_the_preview_attach_and_take_off(town):
    batch, staff = step(zipped(town, ROWS, FILES), "CHECK"), browser_of(STAFF)
    page = staff.get(reverse("batch", args=[batch.pk])).content.decode()
    assert "What would be attached" in page and "Take it in" in page and "more.png" in page
    step(batch, "APPLY")
    assert "card 7.jpg" in staff.get(reverse("line", args=[line("L1").pk])).content.decode()
    said = staff.post(reverse("batch_undo", args=[batch.pk]), follow=True).content.decode()
    assert "Taken off its lines" in said
    assert "card 7.jpg" not in staff.get(reverse("line", args=[line("L1").pk])).content.decode()
