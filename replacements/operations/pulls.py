"""Before and after a pull: the force estimate, the safe start, the log."""

import hashlib
from collections.abc import Mapping
from datetime import date, datetime
from io import BytesIO

from django.db import transaction

from services_inventory.operations.documents import TEXT, DocumentRefused, document_store

from ..domain.findings import Finding, Level
from ..domain.hydraulics import BadCylinder
from ..domain.pipes import PipeError
from ..domain.pull_force import Verdict, estimate
from ..domain.pull_logs import Cylinder, PullLogError, assess, read
from ..domain.pull_logs.log import PullLog
from ..domain.safety import JobSafety, may_start
from ..domain.tool_strings import ToolString, strength
from ..models import ForceEstimateRecord, PullRecord, ToolStringRecord, WorkOrder
from ..queries.access import consent_state
from ..queries.checklist import open_checks
from ..queries.planned_pull import (
    bends_of,
    case_back,
    case_kept,
    joints_of,
    string_case,
    string_of,
)
from ..queries.pulls import calibration_for, trace_of
from ..queries.stored import findings_kept, plain, stops
from .work_orders import State, day_of, locked

LOG_LIMIT_BYTES = 50 * 1024**2


class EstimateRefused(Exception):
    """The estimate cannot be made; the message says what is missing."""


class StartRefused(Exception):
    """The pull may not start; `findings` say what stands against it and what to do."""

    def __init__(self, findings: list[Finding]):
        self.findings = findings
        said = "; ".join(f.message for f in findings if f.level is Level.STOP)
        super().__init__(f"The pull may not start: {said}")


class PullRefused(Exception):
    """The log cannot be recorded; the message says where and what to do. Nothing was kept."""


def owner_key_of(work_order: WorkOrder) -> str:
    """Return the key that ties a contractor's documents to the contractor."""
    return f"contractor:{work_order.contractor_id}"


def latest_string(work_order: WorkOrder) -> ToolStringRecord | None:
    """Return the tool string recorded last for an order."""
    return work_order.tool_strings.order_by("-id").first()


def estimate_make(
    *,
    work_order: WorkOrder,
    by: str,
    at: datetime,
    anchor_lbf: float | None = None,
    tool_string: ToolStringRecord | None = None,
) -> ForceEstimateRecord:
    """Estimate the pull of an order from what is known now, and keep it with its inputs.

    Parameters
    ----------
    anchor_lbf : what the bearing plate may push on the ground; unrated when left out
    tool_string : the latest of the order when left out; without one its parts are unrated

    Raises
    ------
    EstimateRefused
        Length, cover or soil is not known, or an input cannot be.
    """
    _refuse_unmeasured(work_order)
    record = tool_string or latest_string(work_order)
    try:
        string = string_of(record, day_of(at)) if record else ToolString()
        kept = case_kept(work_order, string, day_of(at), anchor_lbf)
        learned = calibration_for(work_order.soil, at)
        made = estimate(case_back(kept), learned)
    except (PipeError, ValueError) as error:
        raise EstimateRefused(f"{work_order.number}: {error}") from error
    return ForceEstimateRecord.objects.create(
        work_order=work_order,
        parameter_set=made.parameter_set,
        case=kept,
        result=_estimate_kept(made, learned, record),
        verdict=made.verdict.value,
        low_lbf=made.low_lbf,
        expected_lbf=made.expected_lbf,
        high_lbf=made.high_lbf,
        made_by=by,
        made_at=at,
    )


def _refuse_unmeasured(order: WorkOrder) -> None:
    names = {"length_ft": "length", "cover_ft": "cover", "soil": "soil of the backfill"}
    missing = [name for field, name in names.items() if not getattr(order, field)]
    if missing:
        raise EstimateRefused(f"{order.number}: enter the {' and the '.join(missing)} first.")


def _estimate_kept(made, learned, record: ToolStringRecord | None) -> dict:
    return plain(
        {
            "tool_string": record.pk if record else None,
            "limit_lbf": made.limit_lbf,
            "limited_by": made.limited_by,
            "pipe_limit_lbf": made.pipe_limit_lbf,
            "drag_low_lbf": made.drag.low_lbf,
            "drag_expected_lbf": made.drag.expected_lbf,
            "drag_high_lbf": made.drag.high_lbf,
            "run_uncalibrated_lbf": made.run.expected_lbf / made.bias_factor,
            "parts": made.parts,
            "start_lbf": made.start_lbf,
            "end_lbf": made.end_lbf,
            "peak_ft": made.peak_ft,
            "squeeze_lbf": made.squeeze.with_bends_lbf,
            "governs": {"name": made.governs.name, "margin": made.margin},
            "findings": findings_kept(made.findings),
            "bias_factor": made.bias_factor,
            "sigma_ln": made.sigma_ln,
            "calibration": made.calibration,
            "calibration_used": learned,
        }
    )


def start_findings(work_order: WorkOrder, facts: JobSafety, as_of: date) -> list[Finding]:
    """Return what stands against starting an order's work on a day: consent, safety, gear."""
    consent = consent_state(work_order.line, as_of)
    gear = [] if facts.pull is None else _gear_findings(work_order)
    return [*consent.findings, *may_start(facts, as_of), *gear]


def _gear_findings(order: WorkOrder) -> list[Finding]:
    """Return what the latest string check and the latest estimate say against a pull."""
    string, made = latest_string(order), order.estimates.order_by("-id").first()
    found = []
    if string is not None and string.worst_level == Level.STOP:
        said = "The tool string on record has open stops."
        do = "Put them right and record the string again."
        found.append(Finding(Level.STOP, "STRING_STOPS", said, _PLANNING, do))
    if made is None:
        said = "No force estimate has been made."
        do = "Make one before the cable is loaded."
        found.append(Finding(Level.CAUTION, "NO_ESTIMATE", said, _PLANNING, do))
    elif made.verdict == Verdict.NO_GO:
        said = f"The estimate of {day_of(made.made_at)} says no-go."
        do = "Do what its stops ask and estimate again, or choose another method."
        found.append(Finding(Level.STOP, "ESTIMATE_NO_GO", said, _PLANNING, do))
    return found


_PLANNING = "planning rule of this program [judgement]"


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
        _refuse_state(order)
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


def _refuse_state(order: WorkOrder) -> None:
    if order.state not in (State.RELEASED, State.RETURNED):
        raise PullRefused(
            f"{order.number} is {order.get_state_display()}; only released work can go on."
        )


def pull_record(
    *,
    work_order: WorkOrder,
    log,
    machine: Mapping,
    by: str,
    at: datetime,
    pulled_on: date,
    name: str = "",
    tool_string: ToolStringRecord | None = None,
    columns: Mapping | None = None,
) -> PullRecord:
    """Read the log of a pull, judge it, and keep the file, the figures and a thinned trace.

    Parameters
    ----------
    log : file open in binary, or bytes
    machine : bore_in, rod_in, efficiency, count, rod_side of the puller's cylinder, for a log of
        pressure; free_pressure_psi; breaking_force_lbf is taken from the string's cable
    tool_string : the latest of the order when left out
    columns : role to header where the guess was wrong, see `domain.pull_logs.read`

    Raises
    ------
    PullRefused
        The file cannot be read as a log, belongs to another order, or the order is not out.
    """
    content = log if isinstance(log, bytes) else log.read(LOG_LIMIT_BYTES + 1)
    shown = name or getattr(log, "name", "") or "pull log"
    _refuse_state(work_order)
    _refuse_pull(work_order, pulled_on, at)
    earlier = _recorded_before(work_order, content)
    if earlier is not None:
        return earlier
    read_log = _read(content, shown, machine, columns)
    record = tool_string or latest_string(work_order)
    limits = _limits(work_order, record, pulled_on)
    try:
        seen = assess(
            read_log,
            work_order.length_ft,
            **limits,
            joints_ft=[joint.station_ft for joint in joints_of(work_order)],
            bends=[(bend.station_ft, bend.degrees) for bend in bends_of(work_order)],
        )
    except PullLogError as error:
        raise PullRefused(f"{shown}: {error}") from error
    findings = [
        *seen.findings,
        *_without_start(work_order, pulled_on),
        *_assembly_open(work_order, record),
    ]
    with transaction.atomic():
        document = _store(content, shown, work_order, by, at)
        return PullRecord.objects.create(
            work_order=work_order,
            tool_string=record,
            log=document,
            pulled_on=pulled_on,
            machine=plain(dict(machine)),
            columns={role: plain(column) for role, column in read_log.columns.items()},
            **_figures(read_log, seen, limits),
            findings=findings_kept(findings),
            verdict=seen.verdict.value,
            trace=trace_of(read_log),
            recorded_by=by,
            recorded_at=at,
        )


def _refuse_pull(order: WorkOrder, pulled_on: date, at: datetime) -> None:
    if pulled_on > day_of(at):
        raise PullRefused(f"The pull is dated {pulled_on}, which has not come yet.")
    if not order.length_ft:
        raise PullRefused(f"{order.number} has no length; ask the utility to enter it first.")


def _recorded_before(order: WorkOrder, content: bytes) -> PullRecord | None:
    """Return the order's own pull of this very log; a log of another order's pull is refused."""
    digest = hashlib.sha256(content).hexdigest()
    found = PullRecord.objects.filter(
        log__sha256=digest, work_order__contractor_id=order.contractor_id
    ).select_related("work_order")
    for pull in found:
        if pull.work_order_id == order.pk:
            return pull
    for pull in found:
        raise PullRefused(
            f"This very log was handed in for {pull.work_order.number}. Choose the log of "
            f"{order.number}."
        )
    return None


_MACHINE = {"bore_in", "rod_in", "efficiency", "count", "rod_side"}


def _read(content: bytes, shown: str, machine: Mapping, columns: Mapping | None) -> PullLog:
    given = {k: v for k, v in machine.items() if k in _MACHINE and v is not None}
    cylinder = Cylinder(**given) if given.get("bore_in") else None
    try:
        return read(
            BytesIO(content),
            columns=columns or None,
            cylinder=cylinder,
            free_pressure_psi=machine.get("free_pressure_psi") or 0.0,
            size_limit_bytes=LOG_LIMIT_BYTES,
        )
    except (PullLogError, BadCylinder) as error:
        raise PullRefused(f"{shown}: {error}") from error


def _limits(order: WorkOrder, record: ToolStringRecord | None, day: date) -> dict:
    """Return what the log is held against: the string's own limits on the day of the pull."""
    limits = {"limit_lbf": None, "pipe_allowable_lbf": None, "breaking_force_lbf": None}
    if record is None:
        return limits
    try:
        case = string_case(order, string_of(record, day), day)
    except (PipeError, ValueError):
        return limits
    known = strength(case)
    cable = next((p.component for p in case.tool_string.parts if p.component.kind == "CABLE"), None)
    return {
        "limit_lbf": known.total_limit.limit_lbf if known.total_limit else None,
        "pipe_allowable_lbf": known.drag_limit.limit_lbf if known.drag_limit else None,
        "breaking_force_lbf": cable.breaking_force_lbf if cable else None,
    }


def _figures(log: PullLog, seen, limits: dict) -> dict:
    figures = seen.metrics.as_dict() if seen.metrics else {"peak_lbf": log.peak_lbf}
    kept = plain(figures) | {
        "samples": log.raw_count,
        "set_aside": log.set_aside,
        "notes": [note.sentence for note in log.notes],
        "events": plain(list(seen.events)),
        "limits": plain(limits),
    }
    return {
        "length_ft": kept.get("length_ft"),
        "peak_lbf": kept.get("peak_lbf"),
        "p95_lbf": kept.get("p95_lbf"),
        "metrics": kept,
    }


def _without_start(order: WorkOrder, pulled_on: date) -> list[Finding]:
    started = (order.safety or {}).get("started_on")
    if started and started <= pulled_on.isoformat():
        return []
    return [
        Finding(
            Level.STOP,
            "START_NOT_ON_RECORD",
            f"No safe start is on record for {order.number} by {pulled_on}.",
            _PLANNING,
            "Record the safety answers as they were, and say why they come late.",
        )
    ]


def _assembly_open(order: WorkOrder, record: ToolStringRecord | None) -> list[Finding]:
    if record is None:
        return []
    left = [f for f in open_checks(order, record) if f.level is Level.STOP]
    if not left:
        return []
    said = f"{len(left)} stop rows of the assembly checklist are open, such as: {left[0].message}"
    do = "Answer them as they were seen before the pull, or say why they were not."
    return [Finding(Level.CAUTION, "ASSEMBLY_OPEN", said, _PLANNING, do)]


def _store(content: bytes, shown: str, order: WorkOrder, by: str, at: datetime):
    try:
        return document_store(
            file=BytesIO(content),
            name=shown,
            kind="PULL_LOG",
            by=by,
            at=at,
            allowed=(TEXT,),
            limit_bytes=LOG_LIMIT_BYTES,
            owner_key=owner_key_of(order),
        )
    except DocumentRefused as error:
        raise PullRefused(str(error)) from error


def pull_stops(pull: PullRecord) -> list[dict]:
    """Return what forbids to accept a pull as it stands."""
    return stops(pull.findings)
