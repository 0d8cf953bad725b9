"""Long tables sent as CSV while they are read; text that a spreadsheet could run is disarmed."""

from collections.abc import Iterable, Sequence

from django.http import StreamingHttpResponse

from program.submissions.cell_text import Notes, clean
from services_inventory.domain.formulas import csv_pieces


def streamed_table(
    columns: Sequence[str], rows: Iterable[tuple], name: str
) -> StreamingHttpResponse:
    """Return an answer that sends the columns' names and the rows as they come."""
    return StreamingHttpResponse(
        csv_pieces(columns, map(_clean, rows)),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _clean(row: tuple) -> list:
    return [clean(cell, Notes(), "") if isinstance(cell, str) else cell for cell in row]
