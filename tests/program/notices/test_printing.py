"""From the record to letters: the runner, its refusals, what it leaves behind. Constructed."""

import csv
from datetime import date

import pytest
from pypdf import PdfReader

from program.models import Notice, NoticeBatch, Utility
from program.notices.printing import folder_of
from program.notices.templates_text import NoticeKind, NoticeRefused, Wording, blocks_of
from program.operations.deliveries import batch_deliver
from program.operations.notices import notices_owe
from program.operations.wording import slot_fill
from services_inventory.operations.batches import batch_open, batch_run
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db

AS_OF = date(2028, 3, 10)


@pytest.fixture
def utility():
    return Utility.objects.create(
        name="Quillwater Water", pwsid="ZZ0000001", state="ZZ", phone="555-0100",
        website="water.example", return_address="1 Mill Street\nQuillwater",
    )  # fmt: skip


def fill_slots(kind=NoticeKind.LEAD, language="en"):
    for block in blocks_of(kind):
        if block.wording is not Wording.OWN:
            slot_fill(
                kind=kind.value, slot=block.id, language=language, text=f"Agency text {block.id}.",
                taken_from="Agency handbook, 2028, p. 4", by="clerk", at=MORNING,
            )  # fmt: skip


def print_them(kind="LEAD", languages=("en",), **more):
    batch = batch_open(
        kind="LETTERS", by="clerk", at=MORNING,
        parameters={
            "kind": kind, "due_by": "2028-12-31", "dated": "2028-03-10",
            "languages": list(languages), **more,
        },
    )  # fmt: skip
    return batch_run(batch=batch)


def test_letters_are_refused_while_a_slot_is_empty(utility):
    line_of("LEAD", "LEAD")
    notices_owe(AS_OF)
    batch = print_them()
    assert batch.state == "REFUSED"
    assert "Health effects" in batch.message and "does not write it" in batch.message
    assert not NoticeBatch.objects.exists()


def test_letters_say_the_address_and_the_agency_text_and_are_listed(utility):
    lines = [line_of("LEAD", "LEAD", address=f"{n} Mill St") for n in (12, 14)]
    notices_owe(AS_OF)
    fill_slots()
    batch = print_them()
    assert (batch.state, batch.counts["letters"]) == ("APPLIED", 2)
    folder = folder_of(batch.pk)
    pdf, merge = sorted(folder.iterdir(), key=lambda path: path.suffix, reverse=True)
    text = "\n".join(page.extract_text() for page in PdfReader(pdf).pages)
    assert "12 Mill St" in text and "Agency text health_effects." in text
    with open(merge, encoding="utf-8", newline="") as file:
        assert {row["location_id"] for row in csv.DictReader(file)} == {
            line.location_id for line in lines
        }
    made = NoticeBatch.objects.get()
    assert made.notices.count() == 2 and len(made.files[0]["sha256"]) == 64
    assert print_them().state == "REFUSED"  # nothing is printed twice


def test_a_letter_without_an_address_is_named_and_stays_owed(utility):
    line_of("LEAD", "LEAD")
    nowhere = line_of("LEAD", "LEAD", address="")
    notices_owe(AS_OF)
    fill_slots()
    batch = print_them()
    assert batch.counts["refused"] == 1
    assert Notice.objects.get(line=nowhere).notice_batch is None


def test_posting_a_printing_delivers_its_notices_once(utility):
    line_of("LEAD", "LEAD")
    notices_owe(AS_OF)
    fill_slots()
    print_them()
    made = NoticeBatch.objects.get()
    on = date(2030, 1, 1)
    assert batch_deliver(notice_batch=made, on=on, means="POST", by="c", as_of=on) == 1
    assert Notice.objects.get().delivered_on == on
    with pytest.raises(NoticeRefused, match="Recorded already"):
        batch_deliver(notice_batch=made, on=on, means="POST", by="c", as_of=on)


def test_the_sender_must_be_complete():
    Utility.objects.create(name="Quillwater Water")
    line_of("LEAD", "LEAD")
    notices_owe(AS_OF)
    fill_slots()
    batch = print_them()
    assert batch.state == "REFUSED" and "telephone" in batch.message


def test_a_text_says_where_it_was_taken_from():
    with pytest.raises(NoticeRefused, match="where the text was taken from"):
        slot_fill(
            kind="LEAD", slot="health_effects", language="en", text="words", taken_from=" ",
            by="clerk", at=MORNING,
        )  # fmt: skip
