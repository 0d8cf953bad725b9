"""The assembly checklist of a string, answered by name and time."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from ...domain.tool_strings import assembly_checks
from ...models import AssemblyAnswer, ToolStringRecord
from .errors import ToolError


def assembly_answer_many(
    *, tool_string: ToolStringRecord, answers: Iterable[Mapping], by: str, at: datetime
) -> list[AssemblyAnswer]:
    """Answer rows of the checklist: dicts of check_key and passed, measured or note.

    Raises
    ------
    ToolError: the checklist has no such row, or nothing is answered; then none is kept.
    """
    known = {check.check: check for check in assembly_checks()}
    rows = []
    for answer in answers:
        key, passed, measured = (answer.get(n) for n in ("check_key", "passed", "measured"))
        if key not in known:
            raise ToolError(f"The checklist has no row {key!r}.")
        if passed is None and measured is None:
            raise ToolError(f"{known[key].label}: answer it, or leave the row out.")
        if measured is not None and not 0 <= measured < 100_000:
            raise ToolError(f"{known[key].label}: {measured:g} {known[key].unit} cannot be.")
        rows.append(
            AssemblyAnswer(
                tool_string=tool_string,
                check_key=key,
                passed=passed,
                measured=measured,
                note=str(answer.get("note") or "")[:200],
                answered_by=by,
                answered_at=at,
            )
        )
    return AssemblyAnswer.objects.bulk_create(rows)
