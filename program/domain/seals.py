"""Seals: what stood in the record is held by SHA-256, each seal chained to the one before.

Rows are sealed in blocks, as the text that a CSV file of them has, so that anybody can check an
export with the standard library alone, years later and without this program.
"""

import csv
import hashlib
import io
from collections.abc import Iterable, Sequence
from typing import NamedTuple

FIRST = ""  # what the first seal of a record is chained to
ROWS_IN_A_BLOCK = 500


class Sealed(NamedTuple):
    """One seal: which rows of what, their digest, and the head of the chain with it.

    stream : what is sealed, such as `replacements.PullRecord`
    rows : how many rows
    last : the last row, as text; the next block begins behind it
    digest : SHA-256 of the rows' text, hexadecimal
    at : when it was sealed, as text
    head : SHA-256 over the head before, and all that is said here
    """

    stream: str
    rows: int
    last: str
    digest: str
    at: str
    head: str


def text_of(rows: Iterable[Sequence]) -> str:
    """Return rows as lines of CSV (RFC 4180, line feeds), values as text, None as nothing."""
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerows(rows)
    return written.getvalue()


def digest_of(text: str) -> str:
    """Return the SHA-256 of a text in UTF-8, hexadecimal."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def head_of(before: str, *said: object) -> str:
    """Return the head of the chain with one more seal, of which all but its head is said."""
    return digest_of("".join(f"{part}\n" for part in (before, *said)))


def seal(before: str, stream: str, rows: Sequence[Sequence], last: str, at: str) -> Sealed:
    """Return the seal of a block of rows, chained to the head before."""
    said = (stream, len(rows), last, digest_of(text_of(rows)), at)
    return Sealed(*said, head_of(before, *said))


def broken_at(chain: Iterable[Sealed]) -> int | None:
    """Return the place of the first seal that does not follow from the one before, or None."""
    before = FIRST
    for place, one in enumerate(chain):
        if one.head != head_of(before, *one[:-1]):
            return place
        before = one.head
    return None
