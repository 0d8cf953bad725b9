"""A statement about a portion of a line as one number, so that equal ones are recognised."""

from datetime import date
from hashlib import blake2b
from typing import NamedTuple


class Statement(NamedTuple):
    """What one row of evidence says, without when and by whom it was recorded."""

    portion: str
    era: str
    material: str
    basis: str
    points_seen: int = 0
    observed_on: date | None = None
    installed_on: date | None = None
    installed_year: int | None = None
    diameter_in: float | None = None
    source: str = ""


def content_key(statement: Statement) -> int:
    """Return a number of 64 bits (signed), equal for equal statements in every process."""
    words = [
        value.isoformat() if isinstance(value, date) else str(value) for value in statement[:8]
    ]
    diameter = statement.diameter_in
    words.append("" if diameter is None else repr(float(diameter)))
    words.append(statement.source)
    digest = blake2b("\x1f".join(words).encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big", signed=True)
