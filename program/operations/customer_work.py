"""A customer's own replacement of their side: told, done, met by the system, or put off."""

from datetime import date, datetime

from django.db import transaction

from program.models import CustomerWork, CustomerWorkStep, Inquiry
from services_inventory.domain.days import day_told
from services_inventory.models import ServiceLine
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused

Kind = CustomerWorkStep.Kind
# What must be on record before a step of a kind.
_AFTER = {
    Kind.STATE_TOLD: (Kind.EXTENDED, "Record first why the shorter time cannot be met."),
}


@transaction.atomic
def customer_work_record(
    *, line: ServiceLine, told_on: date, source: str, by: str, at: datetime, today: date,
    planned_on: date | None = None, done_on: date | None = None, inquiry: Inquiry | None = None,
) -> CustomerWork:  # fmt: skip
    """Record that a customer will replace, or has replaced, their side of a line.

    Parameters
    ----------
    told_on : day on which the system came to know
    planned_on, done_on : day for which the customer plans the work, or did it; one is needed

    Raises
    ------
    Refused: a day is missing or contradicts another, nothing says how it is known, one stands
        already, or nothing is left to replace.
    """
    _refuse_days(told_on, planned_on, done_on, today)
    if not source.strip():
        raise Refused("Say how it is known, for instance the call or the permit.")
    if line.category == "NON_LEAD":
        raise Refused("This line is non-lead; no side of it is left to replace.")
    if line.customer_works.standing().exists():
        raise Refused(
            "A customer's own work is on record for this line; add to it, or take it back first."
        )
    work = CustomerWork.objects.create(
        line=line,
        inquiry=inquiry,
        told_on=told_on,
        planned_on=planned_on,
        source=source.strip()[:300],
        recorded_by=by,
        recorded_at=at,
    )
    if done_on:
        _step(work, Kind.CUSTOMER_DONE, done_on, source, by, at)
    return work


def _refuse_days(told_on: date, planned_on: date | None, done_on: date | None, today: date) -> None:
    if told_on > today:
        raise Refused(f"The customer told it on {day_told(told_on)}, which has not come yet.")
    if not (planned_on or done_on):
        raise Refused(
            "Give the day for which the customer plans the work, or the day it was done; an "
            "estimate is corrected later."
        )
    if planned_on and not done_on and planned_on < told_on:
        raise Refused(
            f"The customer told it on {day_told(told_on)} but plans it for "
            f"{day_told(planned_on)}, which was over; "
            "give it as done."
        )
    _refuse_future(done_on, today)


def _refuse_future(day: date | None, today: date) -> None:
    if day and day > today:
        raise Refused(f"{day_told(day)} has not come yet; record it once it is done.")


def _step(work, kind: str, day: date, source: str, by: str, at: datetime) -> CustomerWorkStep:
    return CustomerWorkStep.objects.create(
        work=work,
        kind=kind,
        happened_on=day,
        source=source.strip()[:300],
        recorded_by=by,
        recorded_at=at,
    )


@transaction.atomic
def customer_work_step(
    *, work: CustomerWork, kind: str, happened_on: date, source: str, by: str, at: datetime,
    today: date,
) -> CustomerWorkStep:  # fmt: skip
    """Record what happened since: either side replaced, the time extended, the State told.

    Parameters
    ----------
    kind : CUSTOMER_DONE, SYSTEM_DONE, EXTENDED or STATE_TOLD
    source : for an extension the reason; else how it is known and where the proof is

    Raises
    ------
    Refused: the day has not come or precedes the telling, the step is on record, or another is
        missing before it.
    """
    if kind not in Kind.values:
        raise Refused(f"There is no step {kind!r}; choose one of the list.")
    if work.withdrawn_at:
        raise Refused("This record was taken back; record the work anew.")
    if not source.strip():
        raise Refused("Give the reason, or say how it is known.")
    _refuse_future(happened_on, today)
    if kind in (Kind.EXTENDED, Kind.STATE_TOLD) and happened_on < work.told_on:
        raise Refused(f"The customer told it on {day_told(work.told_on)}; give a day from then.")
    there = set(work.steps.standing().values_list("kind", flat=True))
    if kind in there:
        raise Refused(f"“{Kind(kind).label}” is on record already; take it back to correct it.")
    needed = _AFTER.get(Kind(kind))
    if needed and needed[0] not in there:
        raise Refused(needed[1])
    return _step(work, kind, happened_on, source, by, at)


@transaction.atomic
def customer_step_withdraw(*, step: CustomerWorkStep, reason: str, by: str, at: datetime) -> None:
    """Take one step back; what rests on it must be taken back before.

    Raises
    ------
    Refused: no reason, taken back already, or a later step rests on it.
    """
    there = set(step.work.steps.standing().values_list("kind", flat=True))
    resting = [kind for kind, (needed, _) in _AFTER.items() if needed == step.kind]
    if there.intersection(resting):
        raise Refused("Take back first that the State was told.")
    _refuse_dayless(step)
    take_back(row=step, reason=reason, by=by, at=at)


def _refuse_dayless(step: CustomerWorkStep) -> None:
    """The record keeps a day from which the clock runs, planned or done."""
    if step.kind == Kind.CUSTOMER_DONE and step.work.planned_on is None:
        raise Refused(
            "Without this day no clock runs; take the whole record back and record it anew."
        )
