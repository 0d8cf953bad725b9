"""What becomes of letters after printing: returned piles, wrong entries, languages. Constructed."""

from datetime import UTC, date, datetime, timedelta

import pytest
from pypdf import PdfReader

from program.models import DeliveryCorrection, Notice, NoticeBatch, NoticeReturn, SentAgain, Utility
from program.notices.lists import notices_at, owed_page
from program.notices.printing import folder_of
from program.notices.templates_text import NoticeKind, NoticeRefused
from program.operations.deliveries import (
    batch_deliver,
    delivery_correct,
    notice_deliver,
    notice_return,
    notices_return,
    printing_correct,
    return_withdraw,
)
from program.operations.inquiries import inquiry_answer, inquiry_receive
from program.operations.notices import notice_add, notices_owe
from services_inventory.models import Premise
from services_inventory.operations.batches import batch_open, batch_run
from tests.program.notices.test_printing import fill_slots, print_them
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db

AS_OF = date(2028, 3, 10)
SENT = date(2028, 3, 14)
LATER = date(2028, 4, 20)
MOMENT = {"by": "clerk", "at": datetime(2028, 4, 20, 9, tzinfo=UTC), "as_of": LATER}


@pytest.fixture
def utility():
    return Utility.objects.create(
        name="Quillwater Water", pwsid="ZZ0000001", state="ZZ", phone="555-0100",
        website="water.example", return_address="1 Mill Street\nQuillwater",
    )  # fmt: skip


def posted(number=3) -> NoticeBatch:
    """Print and post this many letters."""
    for house in range(number):
        line_of("LEAD", "LEAD", address=f"{house + 10} Mill St")
    notices_owe(AS_OF)
    fill_slots()
    print_them()
    NoticeBatch.objects.update(made_at=MORNING)
    made = NoticeBatch.objects.get()
    assert batch_deliver(notice_batch=made, on=SENT, means="POST", by="c", as_of=SENT) == number
    return made


def one_sent() -> Notice:
    line_of("LEAD", "LEAD")
    notices_owe(AS_OF)
    notice = Notice.objects.get()
    return notice_deliver(notice=notice, on=SENT, means="POST", by="clerk", as_of=SENT)


def test_a_pile_of_returned_letters_is_recorded_but_for_those_that_cannot_be(utility):
    posted()
    first, second, _third = Notice.objects.order_by("id")
    done, refused = notices_return(
        numbers=[first.pk, second.pk, first.pk, 999_999], on=LATER, why="Vacant", **MOMENT
    )
    assert done == [first, second]
    assert refused == ["N-999999: there is no such letter."]
    assert set(Notice.objects.open().values_list("id", flat=True)) == {first.pk, second.pk}
    done, refused = notices_return(numbers=[first.pk], on=LATER, why="", **MOMENT)
    assert done == [] and "not recorded as sent" in refused[0]


def test_a_return_entered_for_the_wrong_letter_is_taken_back_and_stays_on_record():
    notice = one_sent()
    returned = notice_return(notice=notice, on=LATER, why="Vacant", **MOMENT)
    with pytest.raises(NoticeRefused, match="Say why"):
        return_withdraw(returned=returned, why=" ", by="c", at=MOMENT["at"])
    return_withdraw(returned=returned, why="N-12 misread", by="c", at=MOMENT["at"])
    notice.refresh_from_db()
    assert (notice.delivered_on, notice.delivered_by, notice.returned_on) == (SENT, "POST", None)
    assert NoticeReturn.objects.get().withdrawn_reason == "N-12 misread"
    with pytest.raises(NoticeRefused, match="gone out again"):
        return_withdraw(returned=returned, why="again", by="c", at=MOMENT["at"])


def test_a_corrected_delivery_moves_the_yearly_notice_and_keeps_what_stood():
    notice = one_sent()
    notices_owe(SENT)
    assert Notice.objects.open().get().due_on == date(2029, 3, 14)
    delivery_correct(notice=notice, on=date(2028, 3, 17), means="BY_HAND", why="slip", **MOMENT)
    notices_owe(LATER)
    assert Notice.objects.open().get().due_on == date(2029, 3, 17)
    kept = DeliveryCorrection.objects.get()
    assert (kept.was_on, kept.was_by, kept.now_on) == (SENT, "POST", date(2028, 3, 17))
    assert kept.sentence == "2028-03-14, post became 2028-03-17, by hand: slip"


@pytest.mark.parametrize(
    ("on", "why", "sentence"),
    [(SENT, "", "Say why"), (date(2028, 5, 1), "slip", "lies ahead")],
)
def test_a_correction_needs_a_reason_and_a_day_that_has_come(on, why, sentence):
    notice = one_sent()
    with pytest.raises(NoticeRefused, match=sentence):
        delivery_correct(notice=notice, on=on, means="POST", why=why, **MOMENT)
    assert not DeliveryCorrection.objects.exists()


def test_taking_back_the_posting_of_a_printing_makes_its_letters_owed_again(utility):
    made = posted()
    first, second, third = Notice.objects.order_by("id")
    notice_return(notice=first, on=LATER, why="", **MOMENT)
    delivery_correct(notice=second, on=date(2028, 3, 15), means="POST", why="one by one", **MOMENT)
    done = printing_correct(notice_batch=made, on=None, means="POST", why="not posted", **MOMENT)
    assert done.notices == 1  # the one that came back and the one corrected alone stay
    third.refresh_from_db()
    made.refresh_from_db()
    assert third.delivered_on is None and made.delivered_on is None
    second.refresh_from_db()
    assert second.delivered_on == date(2028, 3, 15)
    with pytest.raises(NoticeRefused, match="No delivery"):
        printing_correct(notice_batch=made, on=SENT, means="POST", why="x", **MOMENT)


def test_a_reply_is_printed_in_the_language_that_the_customer_wrote_in(utility):
    for language in ("es", "en"):
        inquiry = inquiry_receive(
            kind="WRONG_CATEGORY", address_given="x", line=line_of("LEAD", "COPPER"),
            language=language, at=MORNING, received_on=AS_OF,
        )  # fmt: skip
        inquiry_answer(
            inquiry=inquiry, answer="Es cobre.", on=AS_OF, by="clerk", as_of=AS_OF, by_letter=True
        )
    assert list(Notice.objects.order_by("id").values_list("language", flat=True)) == ["es", "en"]
    told = []
    batch = batch_open(
        kind="LETTERS", by="clerk", at=MORNING,
        parameters={"kind": "DISPUTE_REPLY", "due_by": "2028-12-31", "dated": "2028-03-10",
                    "languages": ["en"]},
    )  # fmt: skip
    batch = batch_run(batch=batch, report=lambda done, total: told.append((done, total)))
    assert told[-1] == (2, 2)
    pdf = next(folder_of(batch.pk).glob("*.pdf"))
    pages = [page.extract_text() for page in PdfReader(pdf).pages]
    assert [("Usted nos informó" in page, "You told us" in page) for page in pages] == [
        (True, False), (False, True),
    ]  # fmt: skip


def test_a_language_without_the_agency_words_is_not_used(utility):
    line_of("LEAD", "LEAD")
    notices_owe(AS_OF)
    Notice.objects.update(language="es")
    fill_slots(NoticeKind.LEAD, "en")
    batch = print_them()
    assert batch.counts["letters"] == 1
    text = PdfReader(next(folder_of(batch.pk).glob("*.pdf"))).pages[0].extract_text()
    assert "Our records show" in text


def test_days_are_written_as_the_letters_language_writes_them(utility):
    line = line_of("LEAD", "LEAD", address="12 Mill St Apt 3")
    Premise.objects.update(unit="APT 3")
    notice_add(line=line, event="PLANNED_PARTIAL", on=date(2028, 6, 9), by="c", as_of=AS_OF)
    for language in ("en", "es"):
        fill_slots(NoticeKind.PARTIAL, language)
    batch = print_them("PARTIAL", ("en", "es"))
    pages = PdfReader(next(folder_of(batch.pk).glob("*.pdf"))).pages
    english, spanish = (page.extract_text() for page in pages)
    assert "Work from June 9, 2028 on" in english and "March 10, 2028" in english
    assert "a partir del 9 de junio de 2028" in spanish and "10 de marzo de 2028" in spanish
    assert "12 Mill St Apt 3\n" in english  # the unit stands once


def test_letters_are_held_back_where_one_came_back_until_the_address_or_a_person_says_more(utility):
    posted(4)
    moved, moved_in, taken_back, posted_well = Notice.objects.order_by("id")
    numbers = [moved.pk, moved_in.pk, taken_back.pk]
    notices_return(numbers=numbers, on=LATER, why="No such number", **MOMENT)
    slip = NoticeReturn.objects.get(notice=taken_back)
    return_withdraw(returned=slip, why="misread", by="c", at=MOMENT["at"])
    batch = print_them()
    assert batch.state == "REFUSED" and "All 2 that wait are held back" in batch.message
    held, _ = owed_page("", None, "", held=True)
    assert held == [moved, moved_in]

    premise = moved.line.premise
    premise.changes.create(
        before={"address": premise.address}, after={"address": "1 Other St"},
        recorded_at=MOMENT["at"] + timedelta(hours=1), recorded_by="clerk",
    )  # fmt: skip
    assert print_them().counts["held"] == 1
    moved.refresh_from_db()
    assert moved.notice_batch_id == NoticeBatch.objects.last().pk and moved.returned_on is None

    batch = print_them(again="The tenant says the box was full.")
    assert (batch.counts["letters"], batch.counts["held"]) == (1, 0)
    again = SentAgain.objects.get()
    assert (again.returned.notice, again.recorded_by) == (moved_in, "clerk")


def test_a_letter_is_found_by_any_part_of_its_address():
    line = line_of("LEAD", "LEAD", address="12 Mill St")
    line_of("LEAD", "LEAD", address="14 Oak Ave")
    Premise.objects.filter(address="12 Mill St").update(unit="Apt 3")
    Premise.objects.update(city="Quillwater")
    line_of("COPPER", "COPPER", address="16 Mill St")  # no letter about it
    notices_owe(AS_OF)
    for text in ("mill", "12 mil", "apt 3", "MILL quillwater", line.location_id.lower()):
        assert [found for found, _ in notices_at(text)] == [line], text
    assert len(notices_at("quillwater")) == 2
    assert notices_at("mill 99") == []
