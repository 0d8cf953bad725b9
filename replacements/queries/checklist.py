"""The assembly checklist of a string: the last answer of each row, and what is left open."""

from ..domain.findings import Finding
from ..domain.tool_strings import Answer, checks_for, judge_assembly
from ..models import AssemblyAnswer, ToolStringRecord, WorkOrder
from .planned_pull import JAW_FACES


def last_answers(record: ToolStringRecord) -> dict[str, AssemblyAnswer]:
    """Return the last answer to each row that was answered."""
    return {answer.check_key: answer for answer in record.answers.order_by("id")}


def open_checks(
    order: WorkOrder,
    record: ToolStringRecord,
    given: dict[str, AssemblyAnswer] | None = None,
) -> list[Finding]:
    """Return what the answers leave open or wrong."""
    given = last_answers(record) if given is None else given
    answers = [
        Answer(a.check_key, a.passed, a.measured, a.answered_by, a.answered_at.isoformat())
        for a in given.values()
    ]
    faces = _jaw_faces(record) if given else None
    return judge_assembly(answers, jaw_faces=faces, new_pipe_material=order.new_material)


def checklist_shown(order: WorkOrder, record: ToolStringRecord) -> dict:
    """Return each row with its last answer, what is left open, and how many are answered."""
    given = last_answers(record)
    rows = [(check, given.get(check.check)) for check in checks_for(order.new_material)]
    return {"rows": rows, "open": open_checks(order, record, given), "answered": len(given)}


def _jaw_faces(record: ToolStringRecord) -> int | None:
    jaw_sets = record.parts.filter(component__kind="JAW_SET").values_list("component__dimensions")
    return next((int(d[JAW_FACES]) for (d,) in jaw_sets if d.get(JAW_FACES)), None)
