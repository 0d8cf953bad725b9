"""The State's and the utility's own values: proposed, rehearsed, then confirmed with a reason.

What is typed is parsed by its unit and range; the policies and the calendar of its day are built
with it in a transaction that is rolled back; a person sees what it would move; only then is it
kept, as a dated row that is never edited. The utility's facts are rows of the same kind.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from program.domain.own_values import Act, Proposal
from program.domain.regulation import program_rules
from program.domain.utility_facts import utility_facts
from program.models import OwnValue
from program.operations.rehearsing import OwnValueRefused, day_of, rehearse, rows_write, weighs
from program.queries.own_values import own_standings, under
from program.rules import replaced_value, rules_known, utility_facts_on
from services_inventory.domain.allowed import NotAllowed, shown, written
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.regulation import UnknownRule
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import (
    Report,
    batch_open,
    batch_queue,
    batch_run,
)

KIND = "REHEARSAL"
NOT_SET = "{} is the federal rule's own; no State, locality or utility sets it."
AT_ONCE = 20_000  # lines up to which a page waits for the rehearsal; more are the worker's
MOST_BACK, MOST_AHEAD = 12 * 75, 12 * 30  # months a first day may lie from today; proposed here


def value_proposal(
    *, value_id: str, text: str, jurisdiction: str, effective_from: date, today: date,
    citation: str = "",
) -> Proposal:  # fmt: skip
    """Return a value of the rule as the State, the locality or the utility set it.

    Raises
    ------
    OwnValueRefused: it can't be read, lies outside its range, asks for less than a locality or a
        utility may, or is what holds anyway.
    """
    try:
        base = replaced_value(program_rules(), value_id, effective_from)
    except UnknownRule as error:
        raise OwnValueRefused(str(error)) from error
    if base.allowed is None:
        raise OwnValueRefused(NOT_SET.format(value_id))
    _check_day(effective_from, today)
    try:
        value = base.allowed.read(text)
    except NotAllowed as error:
        raise OwnValueRefused({"value": str(error)}) from error
    rules = rules_known().rules
    below = under(rules, value_id, jurisdiction, effective_from)
    if jurisdiction != "STATE" and base.allowed.looser(value, below.value):
        raise OwnValueRefused(
            {
                "value": f"The {below.jurisdiction.lower()} value is {shown(below.value)}. A "
                f"{jurisdiction.lower()} value may ask for more, never for less."
            }
        )
    held = rules.get(value_id, effective_from)
    if (held.jurisdiction, held.value) == (jurisdiction, value):
        raise OwnValueRefused(
            {"value": f"It is {shown(value)} already, recorded by {held.author}."}
        )
    return Proposal(
        act=Act.SET,
        value_id=value_id,
        jurisdiction=jurisdiction,
        effective_from=effective_from,
        value=written(value),
        citation=citation,
    )


def _check_day(day: date, today: date) -> None:
    """Refuse a first day that is a slip of the keyboard."""
    first, last = add_months(today, -MOST_BACK), add_months(today, MOST_AHEAD)
    if not first <= day <= last:
        raise OwnValueRefused(
            {
                "effective_from": f"{day_told(day)} can't be right as a first day. It lies from "
                f"{day_told(first)} to {day_told(last)} (range: proposed here)."
            }
        )


def fact_proposals(
    *, texts: Mapping[str, str], effective_from: date, today: date
) -> list[Proposal]:
    """Return the facts of the utility that are another than on their first day, of those given.

    Raises
    ------
    OwnValueRefused: a fact can't be read, or the day has not come; all faults together.
    """
    _check_day(effective_from, today)
    if effective_from > today:
        why = f"{day_told(effective_from)} has not come yet. Record it once it holds."
        raise OwnValueRefused({"effective_from": why})
    held, errors, found = utility_facts_on(effective_from), {}, []
    for fact_id, text in texts.items():
        try:
            value = written(utility_facts()[fact_id].allowed.read(text))
        except NotAllowed as error:
            errors[fact_id] = str(error)
            continue
        if value != (held[fact_id] if held[fact_id] is not None else _EMPTY.get(fact_id, "")):
            found.append(
                Proposal(
                    act=Act.SET,
                    value_id=fact_id,
                    jurisdiction="UTILITY",
                    effective_from=effective_from,
                    value=value,
                )
            )
    if errors:
        raise OwnValueRefused(errors)
    if not found:
        raise OwnValueRefused(f"Nothing here is another than it was on {day_told(effective_from)}.")
    return found


_EMPTY = {"connections": None, "population": 0, "never_had_lead": False, "publish_addresses": True}


def ending_proposal(*, row: OwnValue, day: date) -> Proposal:
    """Return the ending of a value on the first day that it no longer holds.

    Raises
    ------
    OwnValueRefused: the row sets no value of the rule, was ended or taken back, or began later.
    """
    standing = _standing(row)
    if not standing.can_end:
        raise OwnValueRefused(f"This value can't be ended: it is {standing.words or 'no value'}.")
    if day <= row.effective_from:
        raise OwnValueRefused(
            f"It began on {day_told(row.effective_from)}, so {day_told(day)} can't be the first "
            "day it no longer "
            "holds. If it never held, take it back."
        )
    return Proposal(
        act=Act.END,
        value_id=row.value_id,
        jurisdiction=row.jurisdiction,
        effective_from=day,
        about=row.pk,
    )


def withdrawal_proposal(*, row: OwnValue) -> Proposal:
    """Return the taking back of a row as never true: of a value, an ending, or a taking back.

    Raises
    ------
    OwnValueRefused: it was taken back before.
    """
    standing = _standing(row)
    if not standing.is_live:
        raise OwnValueRefused(f"It was {standing.words} before.")
    return Proposal(
        act=Act.WITHDRAW,
        value_id=row.value_id,
        jurisdiction=row.jurisdiction,
        effective_from=row.effective_from,
        about=row.pk,
    )


def _standing(row: OwnValue):
    found = own_standings([row.value_id])
    return next(standing for standing in found if standing.row.pk == row.pk)


def rehearsal_open(
    *, proposals: Sequence[Proposal], title: str, by: str, author: str, at: datetime
) -> Batch:
    """Open a rehearsal of proposals; run it at once unless many lines have to be weighed.

    Raises
    ------
    OwnValueRefused: what is proposed can't stand; nothing is kept.
    """
    again = weighs(proposals, author=author, at=at)
    batch = batch_open(
        kind=KIND,
        by=by,
        at=at,
        title=title[:200],
        parameters={
            "proposals": [proposal.as_json() for proposal in proposals],
            "author": author,
            "after": _last_row(),
        },
    )
    if again and ServiceLine.objects.count() > AT_ONCE:
        return batch_queue(batch=batch, step="CHECK")
    batch_run(batch=batch)
    if batch.state == Batch.State.REFUSED:
        raise OwnValueRefused(batch.message)
    return batch


def proposals_of(batch: Batch) -> list[Proposal]:
    """Return what a rehearsal is of."""
    return [Proposal.of_json(kept) for kept in batch.parameters["proposals"]]


def rehearsal_run(*, batch: Batch, report: Report) -> None:
    """Advance a batch of kind REHEARSAL: compute what its proposals would move."""
    batch.result = rehearse(
        proposals_of(batch),
        author=batch.parameters["author"],
        at=batch.created_at,
        report=report,
    )
    batch.state = Batch.State.CHECKED


@transaction.atomic
def rehearsal_confirm(*, batch: Batch, reason: str, author: str, at: datetime) -> Batch | None:
    """Keep what was rehearsed, with a reason; return the restatement it asks for, if any.

    Raises
    ------
    OwnValueRefused: there is no reason, it was kept or left before, or the rehearsal is of
        another day or of values that have changed since. Nothing is kept then.
    """
    if not reason.strip():
        raise OwnValueRefused({"reason": "Say why, for whoever reads this in ten years."})
    open_now = Batch.objects.select_for_update().filter(kind=KIND, state=Batch.State.CHECKED)
    if batch.pk not in {kept.pk for kept in open_now}:
        raise OwnValueRefused("It was recorded or left before; nothing was recorded twice.")
    rehearsed = localdate(batch.created_at)
    if batch.parameters["after"] != _last_row() or rehearsed != localdate(at):
        raise OwnValueRefused(
            f"It was rehearsed on {rehearsed}, and what is on record is another since. Rehearse "
            "it again to see what it would move now."
        )
    rows_write(proposals_of(batch), author=author, reason=reason.strip(), at=at)
    _end(batch, Batch.State.APPLIED, f"Recorded by {author}.", at)
    return _restatement(batch, author, at) if batch.result["weighs"] else None


def rehearsal_leave(*, batch: Batch, at: datetime) -> None:
    """Leave a rehearsal: nothing of it is recorded."""
    if batch.state == Batch.State.CHECKED:
        _end(batch, Batch.State.STOPPED, "Left; nothing was recorded.", at)


def _end(batch: Batch, state: str, message: str, at: datetime) -> None:
    batch.state, batch.message, batch.ended_at = state, message, at
    batch.save(update_fields=["state", "message", "ended_at"])


def _last_row() -> int:
    return OwnValue.objects.order_by("-id").values_list("id", flat=True).first() or 0


def _restatement(batch: Batch, author: str, at: datetime) -> Batch:
    """Queue the restatement of all lines, for the day from which they stand by other values."""
    on = day_of(proposals_of(batch), localdate(at))
    later = {"not_before": on.isoformat()} if on > localdate(at) else {}
    restated = batch_open(
        kind="RESTATE",
        by=author,
        at=at,
        title=f"After: {batch.title}"[:200],
        parameters={"write": True, **later},
    )
    return batch_queue(batch=restated)
