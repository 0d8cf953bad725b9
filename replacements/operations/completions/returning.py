"""Returning a completion record to the contractor, with the reasons."""

from collections.abc import Iterable
from datetime import datetime

from django.db import IntegrityError, transaction

from ...models import CompletionRecord, CompletionReview
from ..work_orders import State, change_append, locked
from .errors import CompletionError


def completion_return(
    *,
    completion: CompletionRecord,
    by: str,
    at: datetime,
    reasons: str,
    user_id: int | None = None,
) -> CompletionReview:
    """Send a record back with reasons; the contractor hands in a new revision.

    Raises
    ------
    CompletionError
        No reason is given, it was answered already, or it is the reviewer's own.
    """
    if not reasons.strip():
        raise CompletionError("Say why the work is returned, so that the crew knows what to mend.")
    refuse_own(completion, by, user_id)
    with transaction.atomic():
        order = locked(completion.work_order)
        if order.state != State.HANDED_IN:
            raise CompletionError(f"{order.number} is {order.get_state_display()}.")
        try:
            with transaction.atomic():
                review = CompletionReview.objects.create(
                    completion=completion,
                    answer=CompletionReview.Answer.RETURNED,
                    reasons=reasons.strip(),
                    reviewed_by=by,
                    reviewed_at=at,
                )
        except IntegrityError as error:
            raise CompletionError("This record was answered already.") from error
        change_append(order, order.state, State.RETURNED, by, at, reasons.strip()).save()
        order.state = State.RETURNED
        order.save(update_fields=["state"])
    completion.work_order.state = order.state
    return review


def completions_return_many(
    *,
    completion_ids: Iterable[int],
    by: str,
    at: datetime,
    reasons: str,
    user_id: int | None = None,
) -> tuple[list[int], list[str]]:
    """Send many records back for one reason; return those sent, and a sentence for each other.

    Raises
    ------
    CompletionError
        No reason is given.
    """
    if not reasons.strip():
        raise CompletionError("Say why the work is returned, so that the crew knows what to mend.")
    records = CompletionRecord.objects.filter(pk__in=list(completion_ids))
    sent, refused = [], []
    for record in records.select_related("work_order").order_by("pk"):
        try:
            completion_return(completion=record, by=by, at=at, reasons=reasons, user_id=user_id)
            sent.append(record.pk)
        except CompletionError as error:
            refused.append(f"{record.work_order.number}: {error}")
    return sent, refused


def refuse_own(completion: CompletionRecord, by: str, user_id: int | None) -> None:
    """Refuse a reviewer who handed the record in.

    Raises
    ------
    CompletionError
        The record is the reviewer's own.
    """
    same_user = user_id is not None and user_id == completion.handed_in_by_user_id
    if same_user or by == completion.handed_in_by:
        raise CompletionError("Nobody reviews their own record; another person has to look at it.")
