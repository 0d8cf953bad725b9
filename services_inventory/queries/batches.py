"""Reading batches: how far one is, what it held back, which columns its file has."""

import hashlib
import json
from datetime import date
from pathlib import Path

from django.db.models import Q, QuerySet
from django.utils.timezone import localdate

from services_inventory.domain.days import day_told

from .. import progress
from ..intake.columns import FIELDS, ColumnMap, guess
from ..intake.reading import open_table
from ..models import Batch, SavedColumns

SAMPLE = 200
SHOWN_KINDS = ("INTAKE", "BOUNDARIES", "DOCUMENTS", "INTAKE_UNDO", "RESTATE")


def batches_shown(limit: int = 60) -> list[Batch]:
    """Return the latest batches of the inventory, newest first."""
    return list(
        Batch.objects.filter(kind__in=SHOWN_KINDS)
        .select_related("withdrawn_by")
        .order_by("-id")[:limit]
    )


def batches_waiting(day: date) -> QuerySet[Batch]:
    """Return what a worker may take up on a day: queued, and not for a later day."""
    of_today = Q(parameters__not_before__isnull=True) | Q(
        parameters__not_before__lte=day.isoformat()
    )
    return Batch.objects.filter(of_today, state=Batch.State.QUEUED)


def batch_progress(batch: Batch) -> dict:
    """Return how far a batch is: {done, total, percent, message}."""
    note = progress.read(batch.pk) if batch.is_running else None
    done, total = (note["done"], note["total"]) if note else (batch.done, batch.total)
    percent = min(99, int(100 * done / total)) if total else 0
    return {
        "done": done,
        "total": total,
        "percent": percent if batch.is_running else batch.percent,
        "message": note["message"] if note else batch.message,
    }


def header_sha256(header: list[str]) -> str:
    """Return what a saved column map is found by: the headings in their order."""
    return hashlib.sha256(json.dumps(header).encode()).hexdigest()


def columns_of(batch: Batch) -> dict:
    """Return what the columns page shows: each heading, samples, the field guessed or saved.

    Raises
    ------
    UnreadableFile
        The file cannot be opened as a table.
    """
    table = open_table(
        Path(batch.file.path),
        sheet=batch.parameters.get("sheet") or None,
        layer=batch.parameters.get("layer") or None,
    )
    sample = [cells for _, (_, cells) in zip(range(SAMPLE), table.rows(), strict=False)]
    chosen, origin = _map_of(batch, table.header, sample)
    fields = {column.heading: column for column in chosen.columns}
    hints = dict(chosen.unmapped)
    return {
        "table": table,
        "map": chosen,
        "origin": origin,
        "date_order": chosen.date_order,
        "rows": [
            {
                "heading": heading,
                "position": at,
                "samples": _samples(sample, at),
                "field": fields[heading].field if heading in fields else "",
                "why": fields[heading].why if heading in fields else hints.get(heading, ""),
                "sure": fields[heading].confidence if heading in fields else None,
            }
            for at, heading in enumerate(table.header)
        ],
        "fields": [(field.key, field.label) for field in FIELDS.values()],
    }


def _map_of(batch: Batch, header: list[str], sample: list) -> tuple[ColumnMap, str]:
    given = batch.parameters.get("columns")
    if given:
        return ColumnMap.from_dict(given), "as you set them"
    saved = SavedColumns.objects.filter(header_sha256=header_sha256(header)).first()
    if saved:
        when = day_told(localdate(saved.saved_at))
        return ColumnMap.from_dict(saved.columns), f"as {saved.saved_by} saved them on {when}"
    return guess(header, sample), "guessed from headings and content"


def _samples(sample: list, at: int, most: int = 3) -> list[str]:
    seen = []
    for cells in sample:
        value = str(cells[at]).strip() if at < len(cells) and cells[at] is not None else ""
        if value and value not in seen:
            seen.append(value[:60])
        if len(seen) == most:
            break
    return seen
