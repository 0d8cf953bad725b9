"""Notices on their way: posted, handed over, come back; and putting right what was recorded."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.timezone import localdate

from program.models import DeliveryCorrection, Notice, NoticeBatch, NoticeReturn, SentAgain
from program.notices.templates_text import NoticeRefused
from services_inventory.domain.certain import certain
from services_inventory.domain.days import day_told
from services_inventory.models import Document


@transaction.atomic
def batch_deliver(
    *, notice_batch: NoticeBatch, on: date, means: str, by: str, as_of: date,
    proof: Document | None = None,
) -> int:  # fmt: skip
    """Record that the letters of a printing were posted or handed over; return their number.

    Raises
    ------
    NoticeRefused: the day lies ahead or before the printing, or it is recorded already.
    """
    _delivery_day(on, as_of)
    _not_before_printing(notice_batch, on)
    if notice_batch.delivered_on:
        raise NoticeRefused(f"Recorded already, on {day_told(notice_batch.delivered_on)}.")
    notice_batch.delivered_on, notice_batch.delivered_by = on, means
    notice_batch.proof = proof or notice_batch.proof
    notice_batch.save(update_fields=["delivered_on", "delivered_by", "proof"])
    waiting = notice_batch.notices.open()
    return waiting.update(delivered_on=on, delivered_by=means, recorded_by=by)


def notice_deliver(*, notice: Notice, on: date, means: str, by: str, as_of: date) -> Notice:
    """Record that one notice was handed over or sent.

    Raises
    ------
    NoticeRefused: the day lies ahead, or the notice was delivered or called off.
    """
    _delivery_day(on, as_of)
    if notice.delivered_on or notice.withdrawn_on:
        raise NoticeRefused("This notice is not owed any more.")
    notice.delivered_on, notice.delivered_by, notice.recorded_by = on, means, by
    notice.save(update_fields=["delivered_on", "delivered_by", "recorded_by"])
    return notice


def _not_before_printing(notice_batch: NoticeBatch, on: date) -> None:
    printed = localdate(notice_batch.made_at)
    if on < printed:
        raise NoticeRefused(
            f"These letters were printed on {day_told(printed)}, after {day_told(on)}; give the "
            "day on which they were delivered."
        )


def _delivery_day(on: date, as_of: date) -> None:
    if on > as_of:
        raise NoticeRefused(f"{day_told(on)} lies ahead; give the day on which it was delivered.")


@transaction.atomic
def notice_return(
    *, notice: Notice, on: date, why: str, by: str, at: datetime, as_of: date
) -> NoticeReturn:
    """Record that a letter came back: its notice is owed again, by its first day.

    Raises
    ------
    NoticeRefused: the letter was not sent, or came back before it was sent or in days to come.
    """
    if notice.delivered_on is None:
        raise NoticeRefused("This letter is not recorded as sent, so it cannot have come back.")
    if not notice.delivered_on <= on <= as_of:
        raise NoticeRefused(
            f"It was sent on {day_told(notice.delivered_on)}; give a day from then to today."
        )
    returned = NoticeReturn.objects.create(
        notice=notice,
        sent_on=notice.delivered_on,
        means=notice.delivered_by,
        returned_on=on,
        why=why.strip()[:200],
        recorded_by=by,
        recorded_at=at,
    )
    _take_back_what_followed(notice, on, "The notice before it came back.")
    notice.delivered_on, notice.delivered_by, notice.returned_on = None, "", on
    notice.save(update_fields=["delivered_on", "delivered_by", "returned_on"])
    return returned


def notices_return(
    *, numbers: Sequence[int], on: date, why: str, by: str, at: datetime, as_of: date
) -> tuple[list[Notice], list[str]]:
    """Record a pile of returned letters; return those recorded and a sentence for each other.

    One that cannot be recorded does not hold up the rest.
    """
    found = Notice.objects.select_related("line__premise").in_bulk(numbers)
    recorded, refused = [], []
    for number in dict.fromkeys(numbers):
        if number not in found:
            refused.append(f"N-{number}: there is no such letter.")
            continue
        try:
            notice_return(notice=found[number], on=on, why=why, by=by, at=at, as_of=as_of)
        except NoticeRefused as error:
            refused.append(f"N-{number}: {error}")
        else:
            recorded.append(found[number])
    return recorded, refused


def returns_send_again(*, returns: QuerySet[NoticeReturn], why: str, by: str, at: datetime) -> int:
    """Decide that letters go once more to addresses from which one came back; count them.

    Raises
    ------
    NoticeRefused: no reason is given.
    """
    if not why.strip():
        raise NoticeRefused("Say why a letter goes to this address again.")
    decided = [
        SentAgain(returned=one, why=why.strip()[:200], recorded_by=by, recorded_at=at)
        for one in returns
    ]
    return len(SentAgain.objects.bulk_create(decided))


@transaction.atomic
def return_withdraw(*, returned: NoticeReturn, why: str, by: str, at: datetime) -> Notice:
    """Take back a return that was entered for the wrong letter: it counts as delivered again.

    Raises
    ------
    NoticeRefused: no reason is given, it was taken back already, or the letter went out again.
    """
    if not why.strip():
        raise NoticeRefused("Say why this return is taken back.")
    notice = returned.notice
    if returned.withdrawn_at or notice.returned_on is None or notice.delivered_on:
        raise NoticeRefused("The letter has gone out again since, so its return stays.")
    NoticeReturn.withdraw(returned.pk, by, at, why)
    returned.refresh_from_db()
    notice.delivered_on, notice.delivered_by = returned.sent_on, returned.means
    notice.returned_on = None
    notice.save(update_fields=["delivered_on", "delivered_by", "returned_on"])
    return notice


@transaction.atomic
def delivery_correct(
    *, notice: Notice, on: date | None, means: str, why: str, by: str, at: datetime, as_of: date
) -> DeliveryCorrection:
    """Put right the delivery of one notice; without a day it was not delivered at all.

    Raises
    ------
    NoticeRefused: it is not recorded as delivered, no reason is given, or the day lies ahead.
    """
    if notice.delivered_on is None:
        raise NoticeRefused("This notice is not recorded as delivered.")
    correction = _correction(notice, on, means, why, by, at, as_of)
    correction.notice = notice
    correction.save()
    _take_back_what_followed(notice, as_of, "The delivery before it was corrected.")
    notice.delivered_on, notice.delivered_by, notice.recorded_by = on, means if on else "", by
    notice.save(update_fields=["delivered_on", "delivered_by", "recorded_by"])
    return correction


@transaction.atomic
def printing_correct(
    *, notice_batch: NoticeBatch, on: date | None, means: str, why: str, by: str, at: datetime,
    as_of: date, proof: Document | None = None,
) -> DeliveryCorrection:  # fmt: skip
    """Put right the delivery of a printing, for all of its letters that still stand as it said.

    Letters that came back, or were corrected one by one, stay as they are.

    Raises
    ------
    NoticeRefused: no delivery is recorded, no reason is given, or the day cannot be.
    """
    if notice_batch.delivered_on is None:
        raise NoticeRefused("No delivery of these letters is recorded yet.")
    if on:
        _not_before_printing(notice_batch, on)
    correction = _correction(notice_batch, on, means, why, by, at, as_of)
    letters = notice_batch.notices.filter(
        delivered_on=notice_batch.delivered_on,
        delivered_by=notice_batch.delivered_by,
        withdrawn_on__isnull=True,
    )
    means = means if on else ""
    later = Notice.objects.open().filter(
        line__in=letters.values("line"),
        kind=notice_batch.kind,
        due_on__gt=notice_batch.delivered_on,
    )
    later.filter(notice_batch__isnull=True).update(
        withdrawn_on=as_of, withdrawn_why="The delivery before it was corrected."
    )
    correction.notice_batch = notice_batch
    correction.notices = letters.update(delivered_on=on, delivered_by=means, recorded_by=by)
    correction.save()
    notice_batch.delivered_on, notice_batch.delivered_by = on, means
    notice_batch.proof = proof or notice_batch.proof
    notice_batch.save(update_fields=["delivered_on", "delivered_by", "proof"])
    return correction


def _correction(
    recorded: Notice | NoticeBatch, on, means: str, why: str, by: str, at: datetime, as_of: date
) -> DeliveryCorrection:
    if not why.strip():
        raise NoticeRefused("Say why the delivery is corrected.")
    if on:
        _delivery_day(on, as_of)
    return DeliveryCorrection(
        was_on=certain(recorded.delivered_on),
        was_by=recorded.delivered_by,
        now_on=on,
        now_by=means if on else "",
        why=why.strip()[:200],
        recorded_by=by,
        recorded_at=at,
    )


def _take_back_what_followed(notice: Notice, on: date, why: str) -> None:
    """The yearly notice counted from a delivery that was none is not due by that count."""
    later = notice.line.notices.open().filter(kind=notice.kind, due_on__gt=notice.due_on)
    later.update(withdrawn_on=on, withdrawn_why=why)
