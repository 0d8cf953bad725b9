"""Notices: working out who is owed one, and printing letters."""

from datetime import date

from django.db import transaction
from django.db.models import Q, QuerySet

from program import clock
from program.domain.deadlines import (
    Disturbance,
    DisturbanceKind,
    Due,
    NewCustomer,
    ReplacementWork,
    SampleResult,
    WorkKind,
)
from program.models import Notice, NoticeBatch
from program.notices.letters import print_letters
from program.notices.owed import (
    STANDING_KINDS,
    lines_to_look_at,
    owed_for_events,
    owed_for_lines,
    work_stands,
)
from program.notices.printing import (
    LANGUAGES,
    came_back,
    described,
    folder_of,
    languages_of,
    letters_of,
    sender,
    slot_texts,
    to_print,
)
from program.notices.templates_text import NoticeKind, NoticeRefused, empty_slots
from program.operations.deliveries import returns_send_again
from program.rules import rules_in_force
from services_inventory import bulk
from services_inventory.domain.days import day_told
from services_inventory.domain.reporting import Report
from services_inventory.kept_files import hand_over
from services_inventory.models import Batch, ServiceLine

FOUND_KINDS = ("LEAD", "GRR")
REFUSED_SHOWN = 200
# The only occasions for a partial replacement (40 CFR 141.84(d)), as the submission names them.
OCCASIONS = {
    "PLANNED_PARTIAL": "Planned infrastructure work",
    "EMERGENCY_PARTIAL": "Emergency repair",
}
MAY_LIE_AHEAD = ("NEW_CUSTOMER", "PLANNED_PARTIAL")


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
    why = f"The line is no longer in this category on {day_told(as_of)}."
    for kind in STANDING_KINDS:
        stale = waiting.filter(kind=kind.value).exclude(line__category=kind.value)
        stale.update(withdrawn_on=as_of, withdrawn_why=why)
    found = waiting.filter(kind=NoticeKind.VALIDATION_FINDING.value)
    found.exclude(line__category__in=FOUND_KINDS).update(withdrawn_on=as_of, withdrawn_why=why)
    of_work = Notice.objects.filter(subject__startswith="replacement-", delivered_on=None)
    of_work.filter(~work_stands(as_of), withdrawn_on=None).update(
        withdrawn_on=as_of, withdrawn_why=_NO_WORK
    )
    of_work.filter(work_stands(as_of), withdrawn_why=_NO_WORK).update(
        withdrawn_on=None, withdrawn_why=""
    )


_NO_WORK = "The record of that work was taken back."


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
    event : SHUT_OFF, CUT, NEW_CUSTOMER, SAMPLE, FOLLOW_UP_SAMPLE, PLANNED_PARTIAL or
        EMERGENCY_PARTIAL
    on : the day of the event: return to service, start of service, result learned, and for a
        planned partial replacement the day on which its work starts

    Raises
    ------
    NoticeRefused: the event lies ahead, is unknown, or its notice is on the list already.
    """
    if on > as_of and event not in MAY_LIE_AHEAD:
        raise NoticeRefused(f"{day_told(on)} lies ahead; give the day on which it happened.")
    if event.endswith("SAMPLE") and not result.strip():
        raise NoticeRefused("Give the result with its unit, as the laboratory wrote it.")
    kind, due, values = _event(line, event, on, result, as_of)
    subject = f"{'customer' if event == 'NEW_CUSTOMER' else event.lower()}-{on}"
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
        sample = SampleResult(key, key, on, follow_up=event == "FOLLOW_UP_SAMPLE")
        values = {"sample_date": on.isoformat(), "result": result.strip()}
        return NoticeKind.SAMPLE_RESULT.value, sample.dues(as_of, rules)[0], values
    if event == "NEW_CUSTOMER" and line.category in tuple(STANDING_KINDS):
        return line.category, NewCustomer(key, on).dues(as_of, rules)[0], {}
    if event in OCCASIONS and line.category in tuple(STANDING_KINDS):
        planned = event == "PLANNED_PARTIAL"
        fact = ReplacementWork(
            key, key, WorkKind(event), starts_on=on if planned else None,
            back_in_service_on=None if planned else on,
        )  # fmt: skip
        values = {"work_date": on.isoformat(), "occasion": OCCASIONS[event]}
        return NoticeKind.PARTIAL.value, fact.dues(as_of, rules)[0], values
    raise NoticeRefused("That event asks for no notice at this line; choose one of the list.")


def letters_run(*, batch: Batch, report: Report) -> None:
    """Run a batch of kind LETTERS: the PDF files and the mail-merge list of one notice."""
    asked = batch.parameters
    kind, due_by = NoticeKind(asked["kind"]), date.fromisoformat(asked["due_by"])
    languages = [code for code in asked.get("languages", ["en"]) if code in LANGUAGES]
    waiting = to_print(kind, due_by, asked.get("lines", ""))
    there = (
        Q() if asked.get("again", "").strip() else Q(line__in=came_back().values("notice__line"))
    )
    batch.counts["held"] = waiting.filter(there).count() if there else 0
    notices = waiting.exclude(there) if there else waiting
    printed, ids = _print(batch, notices, kind, languages, report)
    refused = {int(row.reference.removeprefix("N-")) for row in printed.refused}
    _keep(batch, kind, due_by, languages, printed, [pk for pk in ids if pk not in refused])


def _print(batch: Batch, notices: QuerySet, kind: NoticeKind, languages: list[str], report):
    texts = slot_texts()
    for empty in empty_slots(texts, [kind], languages):
        raise empty
    ready = [code for code in LANGUAGES if not empty_slots(texts, [kind], [code])]
    asked = dict(notices.order_by("id").values_list("id", "language"))
    ids = list(asked)
    if not ids:
        held = batch.counts["held"]
        raise NoticeRefused(
            f"All {held:,} that wait are held back: a letter came back from their addresses."
            if held
            else "No such notice waits to be printed by that day."
        )
    dated = date.fromisoformat(batch.parameters["dated"])
    together = batch.parameters.get("together", False)
    printed = print_letters(
        folder_of(batch.pk),
        letters_of(notices, languages, dated, ready, together=together),
        sender=sender(),
        texts=texts,
        dated=dated,
        stem=f"{kind.value.lower().replace('_', '-')}-{batch.pk}",
        total=sum(
            1 if together else len(languages_of(said, languages, ready)) for said in asked.values()
        ),
        report=report,
    )
    return printed, ids


@transaction.atomic
def _keep(batch, kind, due_by, languages, printed, ids: list[int]) -> NoticeBatch:
    written = (*printed.files, printed.merge_list)
    files = [described(path) for path in written]
    hand_over(*written)
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
        again = batch.parameters.get("again", "")
        if again.strip():
            back = came_back().filter(notice__line__in=these.values("line"))
            returns_send_again(returns=back, why=again, by=made.made_by, at=made.made_at)
    batch.counts |= {
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
    # In one act with the letters: a worker killed behind it would else look for them in vain.
    batch.state = Batch.State.APPLIED
    batch.save(update_fields=["state", "counts", "result"])
    return made
