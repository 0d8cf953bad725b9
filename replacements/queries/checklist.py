"""The assembly checklist of a string: the last answer of each row, and what is left open."""

from datetime import datetime

from services_inventory.asked_once import once

from ..domain.findings import by_severity, worst
from ..domain.methods import pulled_as
from ..domain.tool_strings import Answer, JudgedRow, SetUp, judge_rows
from ..models import AssemblyAnswer, Component, ToolStringRecord, WorkOrder
from .planned_pull import JAW_FACES
from .stored import findings_kept
from .together import rows_of
from .tool_life import setups_of

WITH_THE_CREW = ("PLANNED", "RELEASED", "RETURNED")


@once
def last_answers(record: ToolStringRecord) -> dict[str, AssemblyAnswer]:
    """Return the last answer to each row that was answered."""
    return {answer.check_key: answer for answer in rows_of(record, "answers")}


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
    return _setup(jaws.tool_set_id, at)


@once
def _setup(tool_set_id: int, at: datetime | None) -> SetUp:
    return setups_of([Component(tool_set_id=tool_set_id)], at).get(tool_set_id, SetUp())


def judged_rows(
    order: WorkOrder,
    record: ToolStringRecord,
    given: dict[str, AssemblyAnswer] | None = None,
) -> list[JudgedRow]:
    """Return every row of the checklist, judged by its last answer."""
    given = last_answers(record) if given is None else given
    answers = [
        Answer(a.check_key, a.passed, a.measured, a.answered_by, a.answered_at.isoformat())
        for a in given.values()
    ]
    return judge_rows(
        answers,
        jaw_faces=jaw_faces(record) if given else None,
        new_pipe_material=order.new_material,
        setup=setup_of(order, record, given),
        method=pulled_as(order.method),
    )


def jaw_faces(record: ToolStringRecord) -> int | None:
    """Return how many faces of a string's jaw set need anti-seize, None where it is not known."""
    jaws = _jaw_set(record)
    return int(jaws.dimensions.get(JAW_FACES) or 0) or None if jaws else None


def checklist_shown(order: WorkOrder, record: ToolStringRecord) -> dict:
    """Return each row with its last answer as pages show it, and how the rows stand together.

    A row that failed carries the level of its finding, so that no place shows it as passed.
    """
    given = last_answers(record)
    judged = judged_rows(order, record, given)
    rows = [_row(row, given.get(row.check.check)) for row in judged]
    failed = [row.finding for row in judged if row.failed]
    return {
        "rows": rows,
        "failed": by_severity(failed),
        "open": [row for row in judged if row.open],
        "answered": sum(not row.open for row in judged),
        "passed": sum(row.finding is None for row in judged),
        "worst": worst(row.finding for row in judged if row.finding),
    }


def checklist_told(order: WorkOrder, record: ToolStringRecord) -> dict:
    """Return the checklist as a phone keeps it: badge and bounds of each row, what failed."""
    shown = checklist_shown(order, record)
    return {
        "rows": {
            row["check"].check: {
                "level": row["level"],
                "said": row["said"],
                "by": row["answer"].answered_by if row["answer"] else "",
                **{name: getattr(row["check"], name) for name in ("criterion", "low", "high")},
            }
            for row in shown["rows"]
        },
        "failed": findings_kept(shown["failed"]),
        "open": [row.check.shows for row in shown["open"] if row.check.stop],
        "answered": shown["answered"],
        "passed": shown["passed"],
        "faces": jaw_faces(record),
    }


def _row(row: JudgedRow, kept: AssemblyAnswer | None) -> dict:
    """Return a row with the level and the words of its badge."""
    level = row.finding.level.value if row.finding else "GOOD"
    if row.open:
        said = "not answered"
    elif row.answer.measured is not None:
        said = f"{row.answer.measured:g} {row.check.unit}"
    else:
        said = "yes" if row.answer.passed else "no"
    words = {"STOP": "Stop: ", "CAUTION": "Caution: "}.get(level, "")
    return {"judged": row, "check": row.check, "answer": kept, "level": level,
            "said": f"{words}{said}"}  # fmt: skip


@once
def _jaw_set(record: ToolStringRecord) -> Component | None:
    parts = rows_of(record, "parts", "component")
    found = [part for part in parts if part.component.kind == "JAW_SET"]
    return min(found, key=lambda part: part.position).component if found else None
