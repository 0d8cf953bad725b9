"""Notices: working out who is owed one, printing letters, recording that they arrived."""

from collections.abc import Callable
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from program import clock
from program.domain.deadlines import Disturbance, DisturbanceKind, Due, NewCustomer, SampleResult
from program.models import Notice, NoticeBatch, NoticeReturn
from program.notices.letters import print_letters
from program.notices.owed import (
    STANDING_KINDS,
    lines_to_look_at,
    owed_for_events,
    owed_for_lines,
)
from program.notices.printing import (
    LANGUAGES,
    described,
    folder_of,
    letters_of,
    sender,
    slot_texts,
    to_print,
)
from program.notices.templates_text import (
    NoticeError,
    NoticeKind,
    NoticeRefused,
    empty_slots,
)
from program.rules import rules_in_force
from services_inventory import bulk
from services_inventory.models import Batch, Document, ServiceLine
from services_inventory.operations.batches import BatchError

Report = Callable[[int, int], None]
FOUND_KINDS = ("LEAD", "GRR")
REFUSED_SHOWN = 200


@transaction.atomic
def notices_owe(as_of: date, *, report: Report | None = None) -> int:
    """Put every notice that is owed on a day on the list, once; return how many were added.

    Notices that nobody has got yet about a category the line no longer has are called off.
    """
    _call_off(as_of)
    rules, total = rules_in_force(), lines_to_look_at()
    events = owed_for_events(as_of, rules)
    Notice.objects.bulk_create(events, batch_size=2_000, ignore_conflicts=True)
    added = len(events)
    for rows in owed_for_lines(as_of, rules):
        added += _list(rows)
        if report:
            report(min(added, total), total)
    bulk.drop(_STAGE)
    return added


_STAGE = "notice_stage"
_COLUMNS = ("line_id", "kind", "due_on", "rule_id", "how_computed")


def _list(rows: list[tuple]) -> int:
    kinds = ("INTEGER", "TEXT", "DATE", "TEXT", "TEXT")
    bulk.stage(_STAGE, list(zip(_COLUMNS, kinds, strict=True)), rows)
    names = ", ".join(_COLUMNS)
    return bulk.execute(
        f'INSERT INTO program_notice ({names}, delivered_by, recorded_by, subject, "values", '
        f"withdrawn_why) SELECT {names}, '', '', '', '{{}}', '' FROM {_STAGE} WHERE line_id > 0 "
        "ON CONFLICT DO NOTHING"
    )


def _call_off(as_of: date) -> None:
    waiting = Notice.objects.open()
    why = f"The line is no longer in this category on {as_of}."
    for kind in STANDING_KINDS:
        stale = waiting.filter(kind=kind.value).exclude(line__category=kind.value)
        stale.update(withdrawn_on=as_of, withdrawn_why=why)
    found = waiting.filter(kind=NoticeKind.VALIDATION_FINDING.value)
    found.exclude(line__category__in=FOUND_KINDS).update(withdrawn_on=as_of, withdrawn_why=why)


def owe_run(*, batch: Batch, report: Report) -> None:
    """Run a batch of kind NOTICES: the list brought up to the day it was asked for."""
    as_of = date.fromisoformat(batch.parameters["as_of"])
    batch.counts = {"added": notices_owe(as_of, report=report)}
    batch.state = Batch.State.APPLIED


def notice_add(
    *, line: ServiceLine, event: str, on: date, by: str, result: str = "", as_of: date
) -> Notice:
    """Put one notice on the list because of an event that no other record tells of.

    Parameters
    ----------
    event : SHUT_OFF, CUT, NEW_CUSTOMER, SAMPLE or FOLLOW_UP_SAMPLE
    on : the day of the event: return to service, start of service, result learned

    Raises
    ------
    NoticeRefused: the event lies ahead, is unknown, or its notice is on the list already.
    """
    if on > as_of and event != "NEW_CUSTOMER":
        raise NoticeRefused(f"{on} lies ahead; give the day on which it happened.")
    if event.endswith("SAMPLE") and not result.strip():
        raise NoticeRefused("Give the result with its unit, as the laboratory wrote it.")
    kind, due, values = _event(line, event, on, result, as_of)
    subject = f"{event.lower()}-{on}" if event != "NEW_CUSTOMER" else f"customer-{on}"
    notice, made = Notice.objects.get_or_create(
        line=line,
        kind=kind,
        due_on=due.due_on,
        subject=subject,
        withdrawn_on=None,
        defaults={
            "rule_id": due.rule_id,
            "how_computed": due.how_computed,
            "values": values,
            "recorded_by": by,
        },
    )
    if not made:
        raise NoticeRefused("This notice is on the list already.")
    return notice


def _event(line, event: str, on: date, result: str, as_of: date) -> tuple[str, Due, dict]:
    key, rules = str(line.pk), rules_in_force()
    if event in ("SHUT_OFF", "CUT"):
        kind = DisturbanceKind.CUT if event == "CUT" else DisturbanceKind.NO_CUT
        due = Disturbance(key, key, kind, on).dues(as_of, rules)[0]
        return NoticeKind.DISTURBANCE.value, due, {"work_date": on.isoformat()}
    if event in ("SAMPLE", "FOLLOW_UP_SAMPLE"):
        fact = SampleResult(key, key, on, follow_up=event == "FOLLOW_UP_SAMPLE")
        values = {"sample_date": on.isoformat(), "result": result.strip()}
        return NoticeKind.SAMPLE_RESULT.value, fact.dues(as_of, rules)[0], values
    if event == "NEW_CUSTOMER" and line.category in tuple(STANDING_KINDS):
        return line.category, NewCustomer(key, on).dues(as_of, rules)[0], {}
    raise NoticeRefused("That event asks for no notice at this line; choose one of the list.")


def letters_run(*, batch: Batch, report: Report) -> None:
    """Run a batch of kind LETTERS: the PDF files and the mail-merge list of one notice."""
    asked = batch.parameters
    kind, due_by = NoticeKind(asked["kind"]), date.fromisoformat(asked["due_by"])
    languages = [code for code in asked.get("languages", ["en"]) if code in LANGUAGES]
    notices = to_print(kind, due_by)
    try:
        printed, ids = _print(batch, notices, kind, languages, report)
    except NoticeError as error:
        raise BatchError(str(error)) from error
    refused = {int(row.reference.removeprefix("N-")) for row in printed.refused}
    _keep(batch, kind, due_by, languages, printed, [pk for pk in ids if pk not in refused])
    batch.state = Batch.State.APPLIED


def _print(batch: Batch, notices: QuerySet, kind: NoticeKind, languages: list[str], report):
    texts = slot_texts()
    for empty in empty_slots(texts, [kind], languages):
        raise empty
    ids = list(notices.order_by("id").values_list("id", flat=True))
    if not ids:
        raise NoticeRefused("No such notice waits to be printed by that day.")
    printed = print_letters(
        folder_of(batch.pk),
        letters_of(notices, languages),
        sender=sender(),
        texts=texts,
        dated=date.fromisoformat(batch.parameters["dated"]),
        stem=f"{kind.value.lower().replace('_', '-')}-{batch.pk}",
        total=len(ids) * len(languages),
        report=report,
    )
    return printed, ids


@transaction.atomic
def _keep(batch, kind, due_by, languages, printed, ids: list[int]) -> NoticeBatch:
    files = [described(path) for path in (*printed.files, printed.merge_list)]
    made = NoticeBatch.objects.create(
        kind=kind.value,
        year=due_by.year,
        batch=batch,
        made_by=batch.requested_by,
        made_at=clock.now(),
        letters=printed.printed,
        languages=" ".join(languages),
        due_by=due_by,
        files=files,
    )
    for start in range(0, len(ids), 500):
        these = Notice.objects.filter(pk__in=ids[start : start + 500])
        these.update(notice_batch=made, returned_on=None)
    batch.counts = {
        "letters": printed.printed,
        "pages": printed.pages,
        "refused": len(printed.refused),
    }
    batch.result = {
        "notice_batch": made.pk,
        "refused": [
            {"reference": row.reference, "sentence": row.sentence}
            for row in printed.refused[:REFUSED_SHOWN]
        ],
    }
    return made


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
    if on < notice_batch.made_at.date():
        raise NoticeRefused(f"These letters were printed on {notice_batch.made_at:%Y-%m-%d}.")
    if notice_batch.delivered_on:
        raise NoticeRefused(f"Recorded already, on {notice_batch.delivered_on}.")
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


def _delivery_day(on: date, as_of: date) -> None:
    if on > as_of:
        raise NoticeRefused(f"{on} lies ahead; give the day on which it was delivered.")


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
        raise NoticeRefused(f"It was sent on {notice.delivered_on}; give a day from then to today.")
    returned = NoticeReturn.objects.create(
        notice=notice,
        sent_on=notice.delivered_on,
        means=notice.delivered_by,
        returned_on=on,
        why=why.strip()[:200],
        recorded_by=by,
        recorded_at=at,
    )
    _take_back_what_followed(notice, on)
    notice.delivered_on, notice.delivered_by, notice.returned_on = None, "", on
    notice.save(update_fields=["delivered_on", "delivered_by", "returned_on"])
    return returned


def _take_back_what_followed(notice: Notice, on: date) -> None:
    """The yearly notice counted from a letter that never arrived is not due by that count."""
    later = notice.line.notices.open().filter(kind=notice.kind, due_on__gt=notice.due_on)
    later.update(withdrawn_on=on, withdrawn_why="The notice before it came back.")
