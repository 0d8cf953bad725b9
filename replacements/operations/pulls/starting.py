"""The start of a job: it is recorded only when nothing stands against it."""

from datetime import date, datetime

from django.db import transaction

from ...domain.findings import Finding, Level
from ...domain.pull_force import Verdict
from ...domain.safety import JobSafety, may_start
from ...domain.tool_strings import check_case
from ...models import ToolStringRecord, WorkOrder
from ...queries.access import consent_state
from ...queries.ground import ground_findings
from ...queries.planned_pull import string_case, string_of
from ...queries.readiness import paper_findings
from ...queries.stored import findings_kept, plain
from ..work_orders import day_of, locked
from .errors import StartRefused
from .order_state import PLANNING, latest_string, refuse_state


def start_findings(work_order: WorkOrder, facts: JobSafety, as_of: date) -> list[Finding]:
    """Return what stands against a start on a day: consent, papers, safety, ground, gear."""
    consent = consent_state(work_order.line, as_of)
    gear = [] if facts.pull is None else _gear_findings(work_order, as_of)
    ground = [f for f in ground_findings(work_order, as_of) if f.level is not Level.NOTE]
    papers = paper_findings(work_order, as_of)
    return [*consent.findings, *papers, *may_start(facts, as_of), *ground, *gear]


def _gear_findings(order: WorkOrder, as_of: date) -> list[Finding]:
    """Return what the latest string, checked again on the day, and estimate say against a pull."""
    string, made = latest_string(order), order.estimates.order_by("-id").first()
    found = []
    if string is not None and string.worst_level == Level.STOP:
        said = "The tool string on record has open stops."
        do = "Put them right and record the string again."
        found.append(Finding(Level.STOP, "STRING_STOPS", said, PLANNING, do))
    elif string is not None:
        found += _stops_since(order, string, made, as_of)
    if made is None:
        said = "No force estimate has been made."
        do = "Make one before the cable is loaded."
        found.append(Finding(Level.CAUTION, "NO_ESTIMATE", said, PLANNING, do))
    elif made.verdict == Verdict.NO_GO:
        said = f"The estimate of {day_of(made.made_at)} says no-go."
        do = "Do what its stops ask and estimate again, or choose another method."
        found.append(Finding(Level.STOP, "ESTIMATE_NO_GO", said, PLANNING, do))
    return found


def _stops_since(order: WorkOrder, record: ToolStringRecord, made, as_of: date) -> list[Finding]:
    """Return stops that a failed or corrected tool has brought since the string was checked."""
    try:
        case = string_case(order, string_of(record, as_of), as_of, made)
    except ValueError as error:
        do = "Correct the tool's entry, or take another tool and record the string again."
        return [Finding(Level.STOP, "STRING_STOPS", str(error), PLANNING, do)]
    return [found for found in check_case(case) if found.level is Level.STOP]


def pull_start(
    *, work_order: WorkOrder, facts: JobSafety, by: str, at: datetime, on: date | None = None
) -> WorkOrder:
    """Record that the work starts, with the answers it rests on.

    Raises
    ------
    StartRefused
        An answer is missing or forbids the start, or the owner has not agreed.
    PullRefused
        The order is not with the contractor.
    """
    day = on or day_of(at)
    with transaction.atomic():
        order = locked(work_order)
        refuse_state(order)
        findings = start_findings(order, facts, day)
        if any(finding.level is Level.STOP for finding in findings):
            raise StartRefused(findings)
        order.safety = {
            **order.safety,
            "answers": plain(facts),
            "findings": findings_kept(findings),
            "started_on": day.isoformat(),
            "started_by": by,
            "recorded_at": at.isoformat(),
        }
        order.save(update_fields=["safety"])
    work_order.safety = order.safety
    return work_order
