"""The rows of a batch that were not taken in, as a file in the uploaded format."""

from pathlib import Path

from django.conf import settings

from ..intake.held import held_name, write_held
from ..intake.reading import open_table
from ..models import Batch


def held_file(batch: Batch) -> Path | None:
    """Write the held rows of a batch beside the data and return where; None if there are none."""
    reasons = dict(batch.held_rows.values_list("row_number", "reason"))
    return rows_file(batch, reasons, batch.file_name) if reasons else None


def rows_file(batch: Batch, reasons: dict[int, str], name: str) -> Path:
    """Write these rows of a batch's file, each with its reason, and return where."""
    table = open_table(
        Path(batch.file.path),
        sheet=batch.parameters.get("sheet") or None,
        layer=batch.parameters.get("layer") or None,
    )
    folder = Path(settings.DATA_DIR) / "held" / str(batch.pk)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / held_name(table, name)
    write_held(table, reasons, path)
    return path
