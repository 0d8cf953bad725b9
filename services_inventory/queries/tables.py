"""Tables as CSV text that no spreadsheet runs as a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def neutral(value):
    """Return a cell that a spreadsheet shows as text: an apostrophe goes before a formula sign."""
    if isinstance(value, str) and value.startswith(FORMULA_SIGNS):
        return "'" + value
    return "" if value is None else value


def csv_text(header: Sequence[str], rows: Iterable[Sequence]) -> str:
    """Return a small table as CSV (UTF-8 text, commas)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(header)
    writer.writerows([neutral(value) for value in row] for row in rows)
    return out.getvalue()
