"""Customers' messages about a line: received, inspected, answered, each with its clock."""

from datetime import date, datetime

from django.db import transaction

from program.domain.deadlines import Inquiry as InquiryFact
from program.models import Inquiry, Notice
from program.notices.templates_text import NoticeKind
from program.queries.inquiries import agreed_note, consent_of
from program.rules import rules_in_force
from replacements.models import Consent
from replacements.operations.access import consent_record
from services_inventory.domain.days import day_told
from services_inventory.models import ServiceLine
from services_inventory.operations.documents import document_store
from services_inventory.refused import Refused

PHOTO_KINDS = ("image/jpeg", "image/png", "image/heic", "application/pdf")
PHOTO_LIMIT_BYTES = 15 * 1024**2
FROM_THE_PUBLIC = "public form"


@transaction.atomic
def inquiry_receive(
    *, kind: str, address_given: str, at: datetime, received_on: date,
    line: ServiceLine | None = None, name: str = "", contact: str = "", message: str = "",
    replaced_on: date | None = None, language: str = "en", photo=None, by: str = FROM_THE_PUBLIC,
) -> Inquiry:  # fmt: skip
    """Keep a customer's message and start its clock (40 CFR 141.84(b)(4)).

    Parameters
    ----------
    photo : an open file with a name, or None

    Raises
    ------
    DocumentRefused: the photo is too large or no picture.
    Refused: the replacement is said to lie ahead.
    """
    if replaced_on and replaced_on > received_on:
        raise Refused(f"The day of the replacement, {day_told(replaced_on)}, lies ahead.")
    document = None
    if photo is not None:
        document = document_store(
            file=photo,
            name=photo.name,
            kind="INQUIRY",
            by=by,
            at=at,
            allowed=PHOTO_KINDS,
            limit_bytes=PHOTO_LIMIT_BYTES,
            owner_key="public",
        )
    inquiry = Inquiry(
        line=line,
        kind=kind,
        address_given=address_given.strip()[:200],
        name=name.strip()[:120],
        contact=contact.strip()[:200],
        message=message.strip()[:5000],
        photo=document,
        received_on=received_on,
        replaced_on=replaced_on,
        language=language,
    )
    inquiry.due_on = _due(inquiry)
    inquiry.save()
    return inquiry


def _due(inquiry: Inquiry) -> date:
    fact = InquiryFact("", str(inquiry.line_id or ""), inquiry.received_on)
    return fact.dues(inquiry.received_on, rules_in_force())[0].due_on


def inquiry_place(*, inquiry: Inquiry, line: ServiceLine) -> Inquiry:
    """Say which line a message is about.

    Raises
    ------
    Refused: it was answered already, so the answer was about the line it names.
    """
    if inquiry.answered_on and inquiry.line_id:
        raise Refused("It was answered; the answer stays with the line it was about.")
    inquiry.line = line
    inquiry.save(update_fields=["line"])
    return inquiry


def inquiry_inspect(
    *, inquiry: Inquiry, note: str, inspected_on: date | None, as_of: date, by: str
) -> Inquiry:
    """Keep the order to inspect a line, who gave it when, and the day on which it was done.

    Raises
    ------
    Refused: the day lies outside the time since the message.
    """
    if inspected_on and not inquiry.received_on <= inspected_on <= as_of:
        raise Refused(
            f"Give a day from {day_told(inquiry.received_on)} to today for the inspection."
        )
    if note.strip() != inquiry.inspection_note:
        inquiry.inspection_ordered_on, inquiry.inspection_ordered_by = as_of, by
    inquiry.inspection_note, inquiry.inspected_on = note.strip(), inspected_on
    inquiry.save(
        update_fields=[
            "inspection_note", "inspection_ordered_on", "inspection_ordered_by", "inspected_on",
        ]
    )  # fmt: skip
    return inquiry


def inquiry_offer(*, inquiry: Inquiry, offered_on: date | None, as_of: date) -> Inquiry:
    """Keep the day on which an inspection was offered; without a day, it was not.

    Raises
    ------
    Refused: the day lies outside the time since the message.
    """
    if offered_on and not inquiry.received_on <= offered_on <= as_of:
        raise Refused(f"Give a day from {day_told(inquiry.received_on)} to today for the offer.")
    inquiry.offered_on = offered_on
    inquiry.save(update_fields=["offered_on"])
    return inquiry


@transaction.atomic
def inquiry_agreed(*, inquiry: Inquiry, checked: str, by: str, at: datetime) -> Consent:
    """Record as the owner's consent what was agreed to on line, once.

    Parameters
    ----------
    checked : how staff know that whoever wrote owns the building

    Raises
    ------
    Refused: the message agrees to nothing, names no line, is on record as a consent, or cannot be
        recorded so.
    """
    if inquiry.kind != Inquiry.Kind.OWNER_AGREES:
        raise Refused("This message does not agree to the work.")
    if inquiry.line is None:
        raise Refused("Say which line it is about first.")
    if consent_of(inquiry):
        raise Refused("It is on record as a consent already.")
    return consent_record(
        line=inquiry.line, answer=Consent.Answer.GIVEN, answered_on=inquiry.received_on, by=by,
        recorded_at=at, given_by=inquiry.name, language=inquiry.language, 
        note=agreed_note(inquiry) + checked,
    )  # fmt: skip


@transaction.atomic
def inquiry_answer(
    *, inquiry: Inquiry, answer: str, on: date, by: str, as_of: date, by_letter: bool = False
) -> Inquiry:
    """Record the answer; by letter, it goes on the list of letters to print.

    Raises
    ------
    Refused: it was answered, says nothing, is dated before the message or ahead, or a
        letter has no line to go to.
    """
    if inquiry.answered_on:
        raise Refused(f"Answered already, on {day_told(inquiry.answered_on)}.")
    if not answer.strip():
        raise Refused("Write the answer that the customer gets.")
    if not inquiry.received_on <= on <= as_of:
        raise Refused(f"Give a day from {day_told(inquiry.received_on)} to today for the answer.")
    if by_letter:
        _letter(inquiry, answer.strip(), by)
    inquiry.answer, inquiry.answered_on, inquiry.answered_by = answer.strip(), on, by
    inquiry.save(update_fields=["answer", "answered_on", "answered_by"])
    return inquiry


@transaction.atomic
def inquiry_answer_more(
    *, inquiry: Inquiry, answer: str, on: date, by: str, as_of: date, by_letter: bool = False
) -> Inquiry:
    """Put something right in an answer, or add to it; what was answered stays.

    Raises
    ------
    Refused: nothing was answered yet, it says nothing, or the day is before the answer
        or ahead.
    """
    if not inquiry.answered_on:
        raise Refused("There is no answer yet to add to.")
    if not answer.strip():
        raise Refused("Write what the customer is told besides.")
    if not inquiry.answered_on <= on <= as_of:
        raise Refused(f"Give a day from {day_told(inquiry.answered_on)} to today.")
    if by_letter:
        _letter(inquiry, answer.strip(), by, f"-{on}")
    inquiry.answer += f"\n\n{day_told(on)}, {by}: {answer.strip()}"
    inquiry.save(update_fields=["answer"])
    return inquiry


def _letter(inquiry: Inquiry, answer: str, by: str, which: str = "") -> None:
    if inquiry.line is None:
        raise Refused("Say which line it is about first; the letter goes to its address.")
    fact = InquiryFact("", str(inquiry.line_id), inquiry.received_on)
    due = fact.dues(inquiry.received_on, rules_in_force())[0]
    finding = {"finding": answer.rstrip(".")}
    _, made = Notice.objects.get_or_create(
        line=inquiry.line,
        kind=NoticeKind.DISPUTE_REPLY.value,
        due_on=due.due_on,
        subject=f"inquiry-{inquiry.pk}{which}",
        withdrawn_on=None,
        defaults={
            "rule_id": due.rule_id,
            "how_computed": due.how_computed,
            "language": inquiry.language,
            "values": {"received_date": inquiry.received_on.isoformat(), **finding},
            "recorded_by": by,
        },
    )
    if not made:
        raise Refused("A letter of that day is on the list already.")
