"""A dispute on a row of a statement: said, answered, closed, each taken back by who wrote it."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from services_inventory.refused import Refused

from ..models import StatementLine, StatementNote

Kind = StatementNote.Kind


def standing(notes: Iterable[StatementNote]) -> list[StatementNote]:
    """Return the notes that stand, the oldest first; each taking back removes the one before."""
    stands: list[StatementNote] = []
    for note in sorted(notes, key=lambda note: note.pk):
        if note.kind == Kind.UNDONE:
            stands.pop()
        else:
            stands.append(note)
    return stands


def is_open(notes: Iterable[StatementNote]) -> bool:
    """Tell whether a row is disputed and nobody has closed it."""
    stands = standing(notes)
    return bool(stands) and stands[-1].kind != Kind.CLOSED


def may_write(notes: Iterable[StatementNote], of_contractor: bool) -> list[str]:
    """Return what a side may write on a row now.

    Either side disputes, either answers, the side that disputes closes, and each takes back
    what it wrote itself, last first.
    """
    stands = standing(notes)
    last = stands[-1] if stands else None
    if last is None or last.kind == Kind.CLOSED:
        may = [Kind.DISPUTED]
    else:
        raised = [note for note in stands if note.kind == Kind.DISPUTED][-1]
        may = [Kind.ANSWERED, *([Kind.CLOSED] if raised.of_contractor == of_contractor else [])]
    if last is not None and last.of_contractor == of_contractor:
        may.append(Kind.UNDONE)
    return [kind.value for kind in may]


def note_write(
    *, line: StatementLine, kind: str, said: str, of_contractor: bool, by: str, at: datetime
) -> StatementNote:
    """Write a note on a row; the statement stays as it is.

    Raises
    ------
    Refused: nothing is said, or this side cannot say that of the row as it stands.
    """
    if not said.strip():
        raise Refused("Say in a sentence what is wrong, or what is agreed.")
    with transaction.atomic():
        StatementLine.objects.select_for_update().get(pk=line.pk)
        notes = list(line.notes.all())
        if kind not in may_write(notes, of_contractor):
            stands = standing(notes)
            now = f"is {stands[-1].get_kind_display()}" if stands else "is not disputed"
            raise Refused(f"The row {now}: look at it as it stands, then write again.")
        return StatementNote.objects.create(
            line=line,
            kind=kind,
            said=said.strip()[:300],
            of_contractor=of_contractor,
            written_by=by,
            written_at=at,
        )
