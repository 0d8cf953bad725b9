"""Long tables sent as CSV while they are read; text that a spreadsheet could run is disarmed."""

import csv
from collections.abc import Iterable, Sequence
from itertools import chain

from django.http import StreamingHttpResponse

from program.submissions.cell_text import Notes, clean
from services_inventory.domain.formulas import without_formula


def streamed_table(
    columns: Sequence[str], rows: Iterable[tuple], name: str
) -> StreamingHttpResponse:
    """Return an answer that sends the columns' names and the rows as they come."""
    writer = csv.writer(_Echo())
    return StreamingHttpResponse(
        (writer.writerow(row) for row in chain([columns], map(_safe, rows))),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


class _Echo:
    """A file that gives back what is written to it."""

    def write(self, text: str) -> str:
        return text


def _safe(row: tuple) -> list:
    return [
        without_formula(clean(cell, Notes(), "")) if isinstance(cell, str) else cell for cell in row
    ]
