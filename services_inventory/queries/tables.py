"""Tables as CSV text that no spreadsheet runs as a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

from ..domain.formulas import without_formula


def csv_text(header: Sequence[str], rows: Iterable[Sequence]) -> str:
    """Return a small table as CSV (UTF-8 text, commas)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(header)
    writer.writerows(
        [without_formula(value) if isinstance(value, str) else value for value in row]
        for row in rows
    )
    return out.getvalue()
