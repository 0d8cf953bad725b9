"""What the record says against a start, and whether the start on record still holds."""

from dataclasses import dataclass
from datetime import date, datetime, time

from django.utils import timezone

from services_inventory.asked_once import once

from ..domain.findings import Finding, Level
from ..domain.gate import (
    CREW,
    EstimateOnRecord,
    OrderOnRecord,
    StringOnRecord,
    ToolOnRecord,
    may_start,
    on_record,
)
from ..domain.pull_force import Verdict
from ..domain.safety import JobSafety
from ..domain.tool_strings import ToolString, check_case
from ..models import ForceEstimateRecord, ToolStringRecord, WorkOrder
from .access import consent_state
from .checklist import judged_rows
from .closures import closure_findings
from .estimate_case import changed_since
from .ground import ground_findings
from .planned_pull import string_case, string_of
from .pulls import calibration_for, constants_at
from .readiness import paper_findings
from .stored import findings_back, plain
from .together import last_of

PLANNING = "planning rule of this program [judgment]"
WITH_THE_CREW = ("RELEASED", "RETURNED")


def latest_string(order: WorkOrder) -> ToolStringRecord | None:
    """Return the tool string recorded last for an order."""
    return last_of(order, "tool_strings")


def latest_estimate(order: WorkOrder) -> ForceEstimateRecord | None:
    """Return the force estimate made last for an order."""
    return last_of(order, "estimates")


@once
def order_on_record(order: WorkOrder, as_of: date) -> OrderOnRecord:
    """Return all that is on record of an order and bears on a start on a day; notes left out."""
    string, made = latest_string(order), latest_estimate(order)
    tools, findings = _checked_again(order, string, made, as_of)
    return OrderOnRecord(
        method=order.method,
        consent=_without_notes(consent_state(order.line, as_of).findings),
        papers=tuple(paper_findings(order, as_of)),
        ground=(
            *closure_findings(order.line, as_of),
            *_without_notes(ground_findings(order, as_of)),
        ),
        string=string and StringOnRecord(
            string.pk, _tools(tools), findings, tuple(judged_rows(order, string))
        ),
        estimate=made and _estimate(order, made, tools, as_of),
    )  # fmt: skip


def start_findings(order: WorkOrder, answers: JobSafety, as_of: date) -> list[Finding]:
    """Return what stands against a start on a day: record and answers, the worst first."""
    return may_start(order_on_record(order, as_of), answers, as_of)


def findings_on_record(order: WorkOrder, as_of: date) -> list[Finding]:
    """Return what stands against a start on a day before anybody answers for that day."""
    return on_record(order_on_record(order, as_of))


@dataclass(frozen=True)
class StartOnRecord:
    """A start as it was recorded, and what has come up against it since.

    findings : what was said when it was recorded
    lapsed : stops that stand against it now; with any of them it holds no more
    """

    on: date
    by: str
    tool_string: int | None
    findings: tuple[Finding, ...]
    lapsed: tuple[Finding, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether nothing that stops has come up since."""
        return not self.lapsed


def start_on_record(order: WorkOrder) -> StartOnRecord | None:
    """Return the start of an order, None where there is none.

    While the order is with its crew the start holds only as long as the record bears it: a new
    string, an answer "no", a tool that failed or a changed order end it.
    """
    kept = order.safety or {}
    if not kept.get("started_on"):
        return None
    on = date.fromisoformat(kept["started_on"])
    lapsed = _lapsed(order, kept, on) if order.state in WITH_THE_CREW else ()
    said = tuple(findings_back(kept.get("findings", ())))
    return StartOnRecord(on, kept["started_by"], kept.get("tool_string"), said, lapsed)


def start_shown(order: WorkOrder, day: date) -> dict:
    """Return the start of an order, and while it is with its crew what stands against one."""
    against = findings_on_record(order, day) if order.state in WITH_THE_CREW else []
    return {"start": start_on_record(order), "against_start": against}


def _lapsed(order: WorkOrder, kept: dict, on: date) -> tuple[Finding, ...]:
    now = order_on_record(order, on)
    found = [f for f in on_record(now) if f.level is Level.STOP]
    if now.pulls and now.string and now.string.number != kept.get("tool_string"):
        found.append(_again("START_OF_ANOTHER_STRING", "was recorded for another tool string"))
    if now.pulls and not kept["answers"].get("pull"):
        found.append(_again("START_OF_ANOTHER_METHOD", "was recorded for work without a pull"))
    return tuple(found)


def _again(rule: str, what: str) -> Finding:
    do = "Go through the safe start again."
    return Finding(Level.STOP, rule, f"The safe start {what}.", PLANNING, do, who=CREW)


def _without_notes(findings) -> tuple[Finding, ...]:
    return tuple(found for found in findings if found.level is not Level.NOTE)


def _checked_again(order, record, made, as_of: date) -> tuple[ToolString, tuple[Finding, ...]]:
    """Return the string on the day and what its check says then; a tool may have failed since."""
    if record is None:
        return ToolString(), ()
    try:
        string = string_of(record, as_of)
        found = check_case(string_case(order, string, as_of, made))
    except ValueError as error:
        do = "Correct the tool's entry, or take another tool and record the string again."
        return ToolString(), (Finding(Level.STOP, "STRING_UNREADABLE", str(error), PLANNING, do),)
    return string, _without_notes(found)


def _tools(string: ToolString) -> tuple[ToolOnRecord, ...]:
    return tuple(
        ToolOnRecord(part.component.label, part.component.inspected_on is not None)
        for part in string.parts
    )


def _estimate(
    order: WorkOrder, made: ForceEstimateRecord, string: ToolString, as_of: date
) -> EstimateOnRecord:
    return EstimateOnRecord(
        made_on=timezone.localdate(made.made_at),
        no_go=made.verdict == Verdict.NO_GO,
        of_string=made.result.get("tool_string"),
        changed=(*changed_since(made, order, string, as_of), *_model_changed(made, as_of)),
    )


def _model_changed(made: ForceEstimateRecord, as_of: date) -> tuple[str, ...]:
    """Return whether other constants or another learned factor have come into use since."""
    moment = timezone.make_aware(datetime.combine(as_of, time.max))
    found = []
    if made.parameter_set != constants_at(moment).id:
        found.append("constants of the force model")
    learned = calibration_for(made.case["soil"], moment, made.case.get("method", "SPLIT"))
    if made.result.get("calibration_used") != plain(learned):
        found.append("factor learned in this soil")
    return tuple(found)
