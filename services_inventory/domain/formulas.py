"""Tables as CSV, and text in them that a spreadsheet would run, disarmed (OWASP, CSV Injection)."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice

ROWS_AT_ONCE = 500  # so few that they are still at hand in the processor when they are written

_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_PASSED_OVER = " \u00a0\ufeff"


def could_run(text: str) -> bool:
    """Tell whether a spreadsheet could take the text for a formula."""
    return text.lstrip(_PASSED_OVER).startswith(_SIGNS)


def without_formula(text: str) -> str:
    """Return the text with an apostrophe before it when a spreadsheet could run it."""
    return f"'{text}" if could_run(text) else text


def as_csv(rows: Iterable[Sequence]) -> str:
    """Return rows as CSV text (commas), as they are."""
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


def csv_pieces(header: Sequence[str], rows: Iterable[Sequence]) -> Iterator[str]:
    """Yield a table as CSV while it is read; no text of it is run by a spreadsheet."""
    lines = chain([header], map(_disarmed, rows))
    while some := list(islice(lines, ROWS_AT_ONCE)):
        yield as_csv(some)


def csv_text(header: Sequence[str], rows: Iterable[Sequence]) -> str:
    """Return a small table as CSV; no text of it is run by a spreadsheet."""
    return "".join(csv_pieces(header, rows))


def _disarmed(row: Sequence) -> list:
    return [without_formula(cell) if isinstance(cell, str) else cell for cell in row]
