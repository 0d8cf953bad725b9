"""Erasing what names residents at a line, on request; what the pipe is stays on record."""

from datetime import datetime

from django.db import transaction
from django.db.models import JSONField

from services_inventory.models import ServiceLine
from services_inventory.refused import Refused

from ..models import Purge
from ..queries.personal import erased_columns
from ..queries.seals import fields_of, tables_by_label


@transaction.atomic
def residents_purge(*, line: ServiceLine, reason: str, by: str, at: datetime) -> Purge:
    """Erase names, ways to reach somebody and what they wrote; keep that it was done.

    The seals are taken over other columns, and hold as before. In back-ups it stays until they are
    dropped by their rule, in letters that were printed as PDF, and in photographs.

    Raises
    ------
    Refused: no reason is given, an inquiry waits for its answer, or there is nothing.
    """
    if not 0 < len(reason.strip()) <= 300:
        raise Refused("Say in at most 300 letters who asked for it, and when.")
    if line.inquiries.filter(answered_on=None).exists():
        raise Refused("An inquiry about this line waits for its answer. Answer it first.")
    counts = {label: n for label in erased_columns() if (n := _erased(label, line))}
    if not counts:
        raise Refused("Nothing on record names anybody at this line.")
    return Purge.objects.create(
        line=line, erased=counts, reason=reason.strip(), purged_by=by, purged_at=at
    )


def residents_named(line: ServiceLine) -> list[tuple[str, int, list[str]]]:
    """Return (what kind of rows, how many say something of a resident, the columns' names)."""
    found = [(label, len(_full(label, line)[0])) for label in erased_columns()]
    return [
        (
            str(tables_by_label()[label]._meta.verbose_name_plural).capitalize(),
            count,
            [name.replace("_", " ") for name in erased_columns()[label]],
        )
        for label, count in found
        if count
    ]


def _full(label: str, line: ServiceLine) -> tuple[list[int], dict]:
    """Return the rows of a line that say something, and what their columns are emptied to."""
    table = tables_by_label()[label]
    fields = fields_of(table)
    empty = {
        name: {} if isinstance(fields[name], JSONField) else "" for name in erased_columns()[label]
    }
    rows = table._base_manager.filter(line=line)
    full = rows.exclude(**empty) if len(empty) == 1 else rows.exclude(
        pk__in=rows.filter(**empty).values("pk")
    )  # fmt: skip
    return list(full.values_list("pk", flat=True)), empty


def _erased(label: str, line: ServiceLine) -> int:
    """Empty the columns of a table's rows of a line; return how many rows said something."""
    ids, empty = _full(label, line)
    tables_by_label()[label]._base_manager.filter(pk__in=ids).update(**empty)
    return len(ids)
