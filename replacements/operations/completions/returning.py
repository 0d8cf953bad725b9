"""Giving a completion record back: by the reviewer with reasons, or by its own crew."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from types import MappingProxyType

from django.db import IntegrityError, transaction

from ...models import CompletionRecord, CompletionReview, WorkOrder
from ..work_orders import State, change_append, locked
from .errors import CompletionError

Answer = CompletionReview.Answer
EMPTY: Mapping[str, str] = MappingProxyType({})


def completion_return(
    *,
    completion: CompletionRecord,
    by: str,
    at: datetime,
    reasons: str,
    mend: Mapping[str, str] = EMPTY,
    user_id: int | None = None,
) -> CompletionReview:
    """Send a record back with reasons; the contractor hands in a new revision.

    Parameters
    ----------
    mend : what is wrong, by the part of the record that it is about

    Raises
    ------
    CompletionError: no reason is given, it was answered already, or it is the reviewer's own.
    """
    said = " ".join([reasons.strip(), *(f"{part}: {words}" for part, words in mend.items())])
    if not said.strip():
        raise CompletionError("Say why the work is returned, so that the crew knows what to mend.")
    refuse_own(completion, by, user_id)
    with transaction.atomic():
        order = _waiting(completion)
        review = _answered(completion, Answer.RETURNED, said.strip(), by, at, dict(mend))
        _given_back(completion, order, State.RETURNED, review)
    return review


def completion_take_back(
    *, completion: CompletionRecord, by: str, at: datetime, reason: str = ""
) -> CompletionReview:
    """Take one's own record back before its review begins; what it said opens again.

    Raises
    ------
    CompletionError: it was answered already, or somebody of the utility has begun to look at it.
    """
    with transaction.atomic():
        order = _waiting(completion)
        completion.refresh_from_db(fields=["review_begun_by"])
        if completion.review_begun_by:
            raise CompletionError(
                f"{completion.review_begun_by} has begun the review; ask the utility to return "
                "the record."
            )
        before = order.changes.filter(to_state=State.HANDED_IN).order_by("-id").first()
        said = reason.strip() or "Taken back before the review."
        review = _answered(completion, Answer.TAKEN_BACK, said, by, at)
        _given_back(completion, order, before.from_state if before else State.RETURNED, review)
    return review


def review_begin(*, completion: CompletionRecord, by: str, at: datetime) -> None:
    """Record who of the utility opened a record first; its crew can't take it back any more."""
    CompletionRecord.objects.filter(pk=completion.pk, review_begun_by="").update(
        review_begun_by=by, review_begun_at=at
    )


def _waiting(completion: CompletionRecord) -> WorkOrder:
    order = locked(completion.work_order)
    if order.state != State.HANDED_IN:
        raise CompletionError(f"{order.number} is {order.get_state_display()}.")
    return order


def _answered(completion, answer, reasons: str, by: str, at: datetime, mend: Mapping = EMPTY):
    try:
        with transaction.atomic():
            return CompletionReview.objects.create(
                completion=completion, answer=answer, reasons=reasons, mend=dict(mend),
                reviewed_by=by, reviewed_at=at,
            )  # fmt: skip
    except IntegrityError as error:
        raise CompletionError("This record was answered already.") from error


def _given_back(completion, order: WorkOrder, state: str, review: CompletionReview) -> None:
    who = review.reviewed_by, review.reviewed_at
    change_append(order, order.state, state, *who, review.reasons).save()
    order.state = state
    order.save(update_fields=["state"])
    completion.work_order.state = order.state


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
    CompletionError: no reason is given.
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
    CompletionError: the record is the reviewer's own.
    """
    same_user = user_id is not None and user_id == completion.handed_in_by_user_id
    if same_user or by == completion.handed_in_by:
        raise CompletionError("Nobody reviews their own record; another person has to look at it.")
