"""Long tables sent as CSV while they are read; text that a spreadsheet could run is disarmed."""

from collections.abc import Iterable, Sequence

from django.http import StreamingHttpResponse

from program.submissions.cell_text import Notes, clean
from services_inventory.sending import csv_streamed


def streamed_table(
    columns: Sequence[str], rows: Iterable[tuple], name: str
) -> StreamingHttpResponse:
    """Return an answer that sends the columns' names and the rows as they come."""
    return csv_streamed(name.removesuffix(".csv"), columns, map(_clean, rows))


def _clean(row: tuple) -> list:
    return [clean(cell, Notes(), "") if isinstance(cell, str) else cell for cell in row]
