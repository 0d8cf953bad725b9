"""Deciding which line a row means; the decision is remembered for every later file."""

from datetime import datetime

from ..models import MatchQuestion, ServiceLine


class MatchRefused(Exception):
    """The decision cannot be kept; the message says why."""


def match_decide(
    *, question: MatchQuestion, line: ServiceLine | None, by: str, at: datetime
) -> MatchQuestion:
    """Say that the row means this line, or (None) that it is a line of its own.

    The row itself is taken in when its file, or its held rows, are taken in again.

    Raises
    ------
    MatchRefused
        It was decided already, or its identifier belongs to a line of the record.
    """
    if question.decided_at is not None:
        raise MatchRefused(f"This was decided already, by {question.decided_by}.")
    given = question.given.get("location_id") or ""
    if line is None and given and ServiceLine.objects.filter(location_id=given).exists():
        raise MatchRefused(
            f"The identifier {given} belongs to another line, so the row can't be a line of its "
            "own. Correct its identifier in the file."
        )
    question.decided_line = line
    question.decided_new = line is None
    question.decided_by = by
    question.decided_at = at
    question.save()
    return question
