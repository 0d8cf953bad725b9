"""The assembly checklist of a string: the last answer of each row, and what is left open."""

from ..domain.findings import Finding
from ..domain.tool_strings import Answer, SetUp, checks_for, judge_assembly
from ..models import AssemblyAnswer, Component, ToolStringRecord, WorkOrder
from .planned_pull import JAW_FACES
from .tool_life import setups_of

WITH_THE_CREW = ("PLANNED", "RELEASED", "RETURNED")


def last_answers(record: ToolStringRecord) -> dict[str, AssemblyAnswer]:
    """Return the last answer to each row that was answered."""
    return {answer.check_key: answer for answer in record.answers.order_by("id")}


def setup_of(
    order: WorkOrder,
    record: ToolStringRecord,
    given: dict[str, AssemblyAnswer] | None = None,
) -> SetUp:
    """Return what the tool set of a string's jaws says.

    Once the order has left its crew, as it said when the checklist was last answered.
    """
    jaws = _jaw_set(record)
    if jaws is None or jaws.tool_set_id is None:
        return SetUp()
    given = last_answers(record) if given is None else given
    done = order.state not in WITH_THE_CREW
    at = max((a.answered_at for a in given.values()), default=None) if done else None
    return setups_of([jaws], at).get(jaws.tool_set_id, SetUp())


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
    jaws = _jaw_set(record) if given else None
    faces = int(jaws.dimensions.get(JAW_FACES) or 0) if jaws else 0
    return judge_assembly(
        answers,
        jaw_faces=faces or None,
        new_pipe_material=order.new_material,
        setup=setup_of(order, record, given),
    )


def checklist_shown(order: WorkOrder, record: ToolStringRecord) -> dict:
    """Return each row with its last answer, what is left open, and how many are answered."""
    given = last_answers(record)
    checks = checks_for(order.new_material, setup_of(order, record, given))
    rows = [(check, given.get(check.check)) for check in checks]
    return {"rows": rows, "open": open_checks(order, record, given), "answered": len(given)}


def _jaw_set(record: ToolStringRecord) -> Component | None:
    rows = record.parts.filter(component__kind="JAW_SET").select_related("component")
    part = rows.order_by("position").first()
    return part.component if part else None
