"""The start of a job: it is recorded only when nothing stands against it."""

from datetime import date, datetime

from django.db import transaction

from services_inventory.asked_once import asking_once
from services_inventory.domain.days import day_told

from ...domain.findings import Level
from ...domain.safety import JobSafety
from ...models import WorkOrder
from ...queries.gate import latest_estimate, latest_string, start_findings
from ...queries.stored import findings_kept, plain
from ..work_orders import change_append, day_of, locked
from .errors import PullRefused, StartRefused
from .order_state import refuse_state

_STARTED = "answers findings started_on started_by recorded_at tool_string estimate".split()


def pull_start(
    *, work_order: WorkOrder, facts: JobSafety, by: str, at: datetime, on: date | None = None
) -> WorkOrder:
    """Record that the work starts, with the answers it rests on; a start before it is kept.

    Raises
    ------
    StartRefused: something on record or an answer stands against it; see `gate.may_start`.
    PullRefused: the order is not with the contractor, or the day has not come.
    """
    day = on or day_of(at)
    if day > day_of(at):
        raise PullRefused(
            f"{day_told(day)} has not come yet; answer on the day of work, at the pit."
        )
    with transaction.atomic():
        order = locked(work_order)
        refuse_state(order)
        with asking_once():
            findings = start_findings(order, facts, day)
        if any(finding.level is Level.STOP for finding in findings):
            raise StartRefused(findings)
        string, made = latest_string(order), latest_estimate(order)
        started = {
            "answers": plain(facts),
            "findings": findings_kept(findings),
            "started_on": day.isoformat(),
            "started_by": by,
            "tool_string": string and string.pk,
            "estimate": made and made.pk,
        }
        if any(order.safety.get(name) != value for name, value in started.items()):
            _keep(order, started | {"recorded_at": at.isoformat()}, by, at, _said(day, at))
    work_order.safety = order.safety
    return work_order


def pull_start_withdraw(*, work_order: WorkOrder, by: str, at: datetime, reason: str) -> WorkOrder:
    """Take a start back, such as one recorded for the wrong order; its answers are kept.

    Raises
    ------
    PullRefused: no reason is given, no start is on record, or the order is not with the contractor.
    """
    if not reason.strip():
        raise PullRefused("Say why the start is withdrawn.")
    with transaction.atomic():
        order = locked(work_order)
        refuse_state(order)
        if not order.safety.get("started_on"):
            raise PullRefused(f"No safe start is on record for {order.number}.")
        said = f"Safe start of {order.safety['started_on']} withdrawn: {reason.strip()[:200]}"
        _keep(order, {}, by, at, said)
    work_order.safety = order.safety
    return work_order


def _keep(order: WorkOrder, started: dict, by: str, at: datetime, said: str) -> None:
    """Put a start, or none, in the place of the one before, which is kept."""
    before = {name: order.safety[name] for name in _STARTED if name in order.safety}
    earlier = [*order.safety.get("earlier", []), *([before] if before else [])]
    order.safety = started | ({"earlier": earlier} if earlier else {})
    order.save(update_fields=["safety"])
    change_append(order, order.state, order.state, by, at, said).save()


def _said(day: date, at: datetime) -> str:
    late = "" if day == day_of(at) else ", entered afterwards"
    return f"Safe start recorded for {day_told(day)}{late}"
