"""Accepting completion records: evidence is recorded, the category follows, each counts once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time

from django.db import IntegrityError, transaction
from django.utils import timezone

from services_inventory.models import ServiceLine
from services_inventory.operations.evidence import EvidenceRefused, evidence_record_many

from ...models import (
    CompletionRecord,
    CompletionReview,
    ContactAttempt,
    Replacement,
    WorkOrder,
    WorkOrderChange,
)
from ...queries.pull_review import other_stops, pull_told, unexplained, weighed_by_order
from ..work_orders import State, change_append
from .errors import CompletionError
from .evidence import found_rows, replaced_rows
from .returning import refuse_own

Outcome = CompletionRecord.Outcome


@dataclass(frozen=True)
class Accepted:
    """What became of many: those accepted, and (record id, sentence) of those that were not."""

    accepted: tuple[int, ...]
    refused: tuple[tuple[int, str], ...] = ()


def completion_accept(
    *,
    completion: CompletionRecord,
    by: str,
    at: datetime,
    user_id: int | None = None,
    despite: str = "",
) -> CompletionReview:
    """Accept one record: its evidence is recorded and the line's category follows from it.

    Parameters
    ----------
    despite : why it is accepted although a mandatory check of the record failed; kept

    Raises
    ------
    CompletionError: it was answered already, is not the latest, is the reviewer's own, a pull of
        the order is not explained, or a mandatory check failed and no reason is given.
    """
    done = completions_accept_many(
        completion_ids=[completion.pk], by=by, at=at, user_id=user_id, despite=despite
    )
    if done.refused:
        raise CompletionError(done.refused[0][1])
    completion.work_order.refresh_from_db(fields=["state"])
    return CompletionReview.objects.get(completion=completion)


def completions_accept_many(
    *,
    completion_ids: Iterable[int],
    by: str,
    at: datetime,
    user_id: int | None = None,
    despite: str = "",
) -> Accepted:
    """Accept many records at once; those that cannot be accepted stay, each with its sentence.

    Evidence is recorded and standings are derived once for all, in one transaction.

    Raises
    ------
    CompletionError: somebody else answered one of them at the same moment; nothing was accepted.
    """
    ids = list(dict.fromkeys(completion_ids))
    try:
        with transaction.atomic():
            found = _held(ids)
            pulls = weighed_by_order(record.work_order_id for record in found.values())
            taken, refused = _sorted_out(ids, found, pulls, by, user_id, despite)
            if taken:
                _accept(taken, by, at, despite.strip())
    except IntegrityError as error:
        raise CompletionError("A record was answered already; nothing was accepted.") from error
    except EvidenceRefused as error:
        raise CompletionError(f"The evidence was refused, nothing was accepted: {error}") from error
    return Accepted(tuple(record.pk for record in taken), tuple(refused))


def _held(ids: list[int]) -> dict[int, CompletionRecord]:
    orders = WorkOrder.objects.select_for_update(of=("self",)).filter(completions__in=ids)
    held = {order.pk: order for order in orders.order_by("pk")}
    records = CompletionRecord.objects.filter(pk__in=ids).select_related("review", "pull")
    for record in records:
        record.work_order = held[record.work_order_id]
    return {record.pk: record for record in records}


def _sorted_out(ids, found, pulls, by: str, user_id, despite: str):
    taken, refused, lines = [], [], set()
    for pk in ids:
        record = found.get(pk)
        sentence = "There is no such record." if record is None else (
            _objection(record, pulls[record.work_order_id], by, user_id, despite)
        )  # fmt: skip
        if not sentence and record.work_order.line_id in lines:
            sentence = "Another record of the same line is being accepted; do this one after it."
        if sentence:
            refused.append((pk, sentence))
        else:
            lines.add(record.work_order.line_id)
            taken.append(record)
    return taken, refused


def _objection(record: CompletionRecord, pulls, by: str, user_id, despite: str) -> str:
    """Return in a sentence why a record cannot be accepted, empty when it can."""
    order = record.work_order
    review = getattr(record, "review", None)
    if review is not None:
        return (
            f"{order.number} revision {record.revision} was {review.get_answer_display()} on "
            f"{timezone.localdate(review.reviewed_at)} already; it counts once."
        )
    if order.state != State.HANDED_IN:
        return f"{order.number} is {order.get_state_display()}, not waiting for review."
    try:
        refuse_own(record, by, user_id)
    except CompletionError as error:
        return str(error)
    silent = unexplained(pulls)
    if silent:
        said = " ".join(map(pull_told, silent))
        return (
            f"{order.number} has pulls that nobody has explained. {said} Say at each in its record "
            "why the work may stand, or return it."
        )
    failed = other_stops(record.findings)
    if failed and not despite.strip():
        said = " ".join(finding["message"] for finding in failed)
        return f"{order.number} has open stops: {said} Return it, or say why it may stand."
    return ""


def _accept(records: list[CompletionRecord], by: str, at: datetime, despite: str) -> None:
    rows = [row for record in records for row in found_rows(record)]
    if rows:
        evidence_record_many(rows=rows, by=by, recorded_at=at)
    replaced = [record for record in records if record.outcome == Outcome.REPLACED]
    lines = [record.work_order.line_id for record in replaced]
    before = _facts(lines)
    rows = [row for record in replaced for row in replaced_rows(record)]
    if rows:
        evidence_record_many(rows=rows, by=by, recorded_at=at)
    after = _facts(lines)
    Replacement.objects.bulk_create(
        [_replacement(record, before, after, at) for record in replaced], batch_size=500
    )
    CompletionReview.objects.bulk_create(
        [_review(record, by, at, despite) for record in records], batch_size=500
    )
    _record_attempts(records, by, at)
    _close_orders(records, by, at)


def _facts(line_ids: list[int]) -> dict[int, tuple[str | None, str]]:
    rows = ServiceLine.objects.filter(pk__in=line_ids)
    return {
        pk: (category, key)
        for pk, category, key in rows.values_list("id", "category", "decision__facts_key")
    }


def _replacement(record: CompletionRecord, before, after, at: datetime) -> Replacement:
    line_id = record.work_order.line_id
    (category_before, facts_before), (category_after, facts_after) = before[line_id], after[line_id]
    return Replacement(
        completion=record,
        line_id=line_id,
        replaced_on=record.finished_on,
        category_before=category_before or "UNKNOWN",
        facts_before=facts_before or "",
        category_after=category_after or "UNKNOWN",
        facts_after=facts_after or "",
        system_replaced=record.system_replaced,
        customer_replaced=record.customer_replaced,
        connector_replaced=record.connector_replaced,
        length_ft=record.length_ft,
        accepted_at=at,
    )


def _review(record: CompletionRecord, by: str, at: datetime, despite: str) -> CompletionReview:
    failed = despite and other_stops(record.findings)
    reasons = f"Accepted despite open stops: {despite}" if failed else ""
    return CompletionReview(
        completion=record,
        answer=CompletionReview.Answer.ACCEPTED,
        reasons=reasons,
        reviewed_by=by,
        reviewed_at=at,
    )


def _record_attempts(records: list[CompletionRecord], by: str, at: datetime) -> None:
    """A crew that found nobody at home has made an attempt that counts toward the effort."""
    rows = []
    for record in records:
        if record.outcome == Outcome.NO_ACCESS:
            attempt = record.quality.get("attempt") or {}
            noon = timezone.make_aware(datetime.combine(record.finished_on, time(12)))
            rows.append(
                ContactAttempt(
                    line_id=record.work_order.line_id,
                    at=min(noon, record.handed_in_at),
                    method=attempt.get("method", ContactAttempt.Method.IN_PERSON),
                    addressed_to=attempt.get("addressed_to", "OWNER"),
                    outcome=f"No access: {record.note}"[:200],
                    contractor_id=record.work_order.contractor_id,
                    recorded_by=by,
                    recorded_at=at,
                )
            )
    ContactAttempt.objects.bulk_create(rows)


def _close_orders(records: list[CompletionRecord], by: str, at: datetime) -> None:
    """Work without a result frees the line for a new order; the record stays accepted."""
    changes = []
    ended: dict[State, list[int]] = {State.ACCEPTED: [], State.CALLED_OFF: []}
    for record in records:
        order = record.work_order
        done = record.outcome in (Outcome.REPLACED, Outcome.FOUND_NOT_LEAD)
        state = State.ACCEPTED if done else State.CALLED_OFF
        reason = f"revision {record.revision}: {record.get_outcome_display()}"
        changes.append(change_append(order, order.state, state, by, at, reason))
        ended[state].append(order.pk)
        order.state = state
    for state, ids in ended.items():
        if ids:
            WorkOrder.objects.filter(pk__in=ids).update(state=state)
    WorkOrderChange.objects.bulk_create(changes, batch_size=500)
