"""Setting a utility up in its first hour: its facts at once, and steps passed over or taken up."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from program.models import FirstHourSkip
from program.operations.own_values import fact_proposals, rehearsal_confirm, rehearsal_open
from program.operations.rehearsing import OwnValueRefused
from services_inventory.models import Batch, ServiceLine

REASON = "Entered in the first hour, before any line was in the record."


@transaction.atomic
def system_enter(
    *, texts: Mapping[str, str], today: date, by: str, author: str, at: datetime
) -> Batch:
    """Keep the utility's facts; with no line in the record they move nothing.

    Returns
    -------
    Batch
        The rehearsal; where lines are in the record it waits for a person to confirm it.

    Raises
    ------
    OwnValueRefused: a fact can't be read, or nothing is another than before; nothing was kept.
    """
    proposals = fact_proposals(texts=texts, effective_from=today, today=today)
    batch = rehearsal_open(
        proposals=proposals, title="Facts of the utility", by=by, author=author, at=at
    )
    if batch.state == Batch.State.CHECKED and not ServiceLine.objects.exists():
        rehearsal_confirm(batch=batch, reason=REASON, author=author, at=at)
    return batch


def step_skip(*, step: str, by: str, at: datetime) -> None:
    """Pass a step over for now; who did so first stays."""
    FirstHourSkip.objects.get_or_create(step=step, defaults={"skipped_by": by, "skipped_at": at})


def step_take_up(*, step: str) -> None:
    """Take a step up again that was passed over."""
    FirstHourSkip.objects.filter(step=step).delete()


__all__ = ["OwnValueRefused", "step_skip", "step_take_up", "system_enter"]
