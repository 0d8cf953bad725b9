"""The log of a pull: read, judged against the string's own limits, kept with a thinned trace."""

import hashlib
import math
from collections.abc import Mapping
from datetime import date, datetime
from functools import partial
from io import BytesIO

from django.db import transaction

from services_inventory.apart import Apart, apart
from services_inventory.asked_once import asking_once
from services_inventory.domain.content_types import TEXT
from services_inventory.domain.days import day_told
from services_inventory.operations.documents import DocumentRefused, document_store

from ...domain.findings import Finding, Level
from ...domain.gate import OFFICE
from ...domain.hydraulics import BadCylinder
from ...domain.live_pull import is_covered
from ...domain.pipes import PipeError
from ...domain.pull_logs import Cylinder, PullLogError, assess, read, shipped_rules
from ...domain.pull_logs.log import PullLog
from ...domain.tool_strings import strength
from ...models import PullRecord, ToolStringRecord, WorkOrder
from ...queries.gate import PLANNING, latest_estimate, latest_string, start_on_record
from ...queries.planned_pull import bends_of, joints_of, pipe_state_of, string_case, string_of
from ...queries.pulls import trace_of
from ...queries.stored import findings_kept, plain
from ..work_orders import day_of
from .errors import PullRefused
from .order_state import owner_key_of, refuse_state

LOG_LIMIT_BYTES = 50 * 1024**2


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
    read_before: PullLog | None = None,
) -> PullRecord:
    """Read the log of a pull, judge it, and keep the file, the figures and a thinned trace.

    The same log read the same way again is the same pull; read otherwise, with other columns or
    another cylinder, it takes the place of the first reading, which is kept as withdrawn. So does
    the logger's own file of a pull whose log was made of its live feed.

    Parameters
    ----------
    log : file open in binary, or bytes
    machine : bore_in, rod_in, efficiency, count, rod_side of the puller's cylinder, for a log of
        pressure; free_pressure_psi; breaking_force_lbf is taken from the string's cable
    tool_string : the latest of the order when left out
    columns : role to header where the guess was wrong, see `domain.pull_logs.read`
    read_before : the log as `log_read` read it the same way

    Raises
    ------
    PullRefused: the file cannot be read as a log, belongs to another order, or the order is not
        out.
    """
    content = log if isinstance(log, bytes) else log.read(LOG_LIMIT_BYTES + 1)
    shown = name or getattr(log, "name", "") or "pull log"
    refuse_state(work_order)
    _refuse_pull(work_order, pulled_on, at)
    earlier = _recorded_before(work_order, content)
    read_log = read_before or log_read(content, shown, machine, columns)
    if earlier is not None and _same_reading(earlier, read_log, pulled_on):
        return earlier
    replaced = earlier or _recorded_live(work_order, read_log, pulled_on)
    with asking_once():
        record = tool_string or latest_string(work_order)
        limits = limits_on(work_order, record, pulled_on)
        try:
            seen = assess(
                read_log,
                work_order.length_ft or 0.0,
                **limits,
                joints_ft=[joint.station_ft for joint in joints_of(work_order)],
                bends=[(bend.station_ft, bend.degrees) for bend in bends_of(work_order)],
            )
        except PullLogError as error:
            raise PullRefused(f"{shown}: {error}") from error
        findings = [
            *seen.findings,
            *_of_the_start(work_order, record, pulled_on),
            *_unit_doubt(work_order, seen),
        ]
    with transaction.atomic():
        if replaced is not None:
            reason = "Read again, otherwise." if earlier else "The logger's own file replaced it."
            PullRecord.withdraw(replaced.pk, by, at, reason)
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
            gear_event=next((f.rule for f in findings if f.rule in _GEAR_EVENTS), ""),
            trace=trace_of(read_log),
            recorded_by=by,
            recorded_at=at,
        )


def _refuse_pull(order: WorkOrder, pulled_on: date, at: datetime) -> None:
    if pulled_on > day_of(at):
        raise PullRefused(f"The pull is dated {day_told(pulled_on)}, which has not come yet.")
    if not order.length_ft:
        raise PullRefused(f"{order.number} has no length; ask the utility to enter it first.")


def _recorded_before(order: WorkOrder, content: bytes) -> PullRecord | None:
    """Return the order's own pull of this very log; a log of another order's pull is refused."""
    digest = hashlib.sha256(content).hexdigest()
    found = (
        PullRecord.objects.standing()
        .filter(log__sha256=digest, work_order__contractor_id=order.contractor_id)
        .select_related("work_order")
    )
    for pull in found:
        if pull.work_order_id == order.pk:
            return pull
    for pull in found:
        raise PullRefused(
            f"This very log was handed in for {pull.work_order.number}. Choose the log of "
            f"{order.number}."
        )
    return None


def _recorded_live(order: WorkOrder, log: PullLog, pulled_on: date) -> PullRecord | None:
    """Return the pull that a live feed was made the log of, if this is its logger's own file."""
    reached_ft = float(log.distance_ft.max())
    tolerance_ft = shipped_rules()["end_tolerance_ft"]
    for pull in order.pulls.standing().filter(live_feed__isnull=False, pulled_on=pulled_on):
        fed = (pull.length_ft or 0.0, pull.peak_lbf or 0.0)
        if is_covered(*fed, reached_ft, log.peak_lbf, tolerance_ft):
            return pull
    return None


def _same_reading(earlier: PullRecord, log: PullLog, pulled_on: date) -> bool:
    columns = {role: plain(column) for role, column in log.columns.items()}
    return (
        earlier.pulled_on == pulled_on
        and {r: (c["header"], c["unit"]) for r, c in earlier.columns.items()}
        == {r: (c["header"], c["unit"]) for r, c in columns.items()}
        and math.isclose(earlier.peak_lbf or 0.0, log.peak_lbf, rel_tol=1e-6)
    )


def pull_withdraw(*, pull: PullRecord, by: str, at: datetime, reason: str) -> PullRecord:
    """Take a pull back, such as a log handed in for the wrong house; it is kept, not counted.

    Raises
    ------
    PullRefused: no reason is given, the order waits for review or is finished, or it was withdrawn
        before.
    """
    if not reason.strip():
        raise PullRefused("Say why the pull is withdrawn.")
    refuse_state(pull.work_order)
    if not PullRecord.withdraw(pull.pk, by, at, reason.strip()):
        raise PullRefused("That pull was withdrawn already; look at the order again.")
    pull.refresh_from_db()
    return pull


# After these every part of the string waits for a competent person's inspection.
_GEAR_EVENTS = ("CABLE_BREAK", "OVER_ALLOWABLE")
_MACHINE = {"bore_in", "rod_in", "efficiency", "count", "rod_side"}


def log_read(
    content: bytes,
    shown: str,
    machine: Mapping,
    columns: Mapping | None = None,
    process: Apart | None = None,
) -> PullLog:
    """Read a log as `pull_record` does, without the order or the database.

    Parameters
    ----------
    shown : the file's name, for what is said of it
    process : where logs are read, if there are several; else one is started for this one

    Raises
    ------
    PullRefused: the file cannot be read as a log.
    """
    given = {k: v for k, v in machine.items() if k in _MACHINE and v is not None}
    cylinder = Cylinder(**given) if given.get("bore_in") else None
    asked = partial(
        read,
        BytesIO(content),
        columns=columns or None,
        cylinder=cylinder,
        free_pressure_psi=machine.get("free_pressure_psi") or 0.0,
        size_limit_bytes=LOG_LIMIT_BYTES,
    )
    try:
        return apart(PullLogError, asked) if process is None else process.call(asked)
    except (PullLogError, BadCylinder) as error:
        raise PullRefused(f"{shown}: {error}") from error


def limits_on(order: WorkOrder, record: ToolStringRecord | None, day: date) -> dict:
    """Return what the log is held against: the string's own limits on the day of the pull."""
    limits = {"limit_lbf": None, "pipe_allowable_lbf": None, "breaking_force_lbf": None}
    if record is None:
        return limits
    try:
        state = pipe_state_of(latest_estimate(order))
        case = string_case(order, string_of(record, day), day, pipe_state=state)
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


def _of_the_start(
    order: WorkOrder, record: ToolStringRecord | None, pulled_on: date
) -> list[Finding]:
    """Return a stop where no start that held is on record for the day and the string of a pull."""
    start = start_on_record(order)
    if start is None or start.on > pulled_on:
        said = f"No safe start is on record for {order.number} by {day_told(pulled_on)}."
        do = "Record the safety answers as they were, and say why they come late."
        return [_stop("START_NOT_ON_RECORD", said, do)]
    found = []
    if start.on < pulled_on:
        said = (
            f"The safe start is of {day_told(start.on)}, the pull of {day_told(pulled_on)}: pits, "
            "ticket and cable "
        )
        do = "Say who looked on the day of the pull."
        found.append(_stop("START_OF_ANOTHER_DAY", f"{said}are looked at every day.", do))
    if record is not None and record.pk != start.tool_string:
        said = "The pull was made with another tool string than the safe start was recorded for."
        do = "Say which string was pulled, and who checked it."
        found.append(_stop("START_OF_ANOTHER_STRING", said, do))
    do = "Say who decided to pull, and why."
    return found + [
        _stop("START_HELD_NO_MORE", f"The safe start held no more: {stop.message}", do)
        for stop in start.lapsed
        if stop.rule != "START_OF_ANOTHER_STRING"
    ]


def _stop(rule: str, said: str, do: str) -> Finding:
    return Finding(Level.STOP, rule, said, PLANNING, do, who=OFFICE)


def _unit_doubt(order: WorkOrder, seen) -> list[Finding]:
    """Return a caution where the log lies so far from the estimate that a unit may be wrong."""
    made = latest_estimate(order)
    run_lbf = seen.metrics.run_p95_lbf if seen.metrics else None
    if made is None or not run_lbf:
        return []
    expected = made.result["run_uncalibrated_lbf"]
    if expected / _FAR_OFF < run_lbf < expected * _FAR_OFF:
        return []
    said = f"The log shows {run_lbf:,.0f} lb along the run; {expected:,.0f} lb were estimated."
    do = "Look at unit, bore and rod: bar for psi is 14.5 times off. Read it again if one is wrong."
    return [Finding(Level.CAUTION, "UNIT_DOUBT", said, PLANNING, do, value=run_lbf)]


_FAR_OFF = 6.0  # three times the model's own factor of two


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
