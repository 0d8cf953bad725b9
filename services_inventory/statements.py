"""A statement about a portion of a line as one number, so that equal ones are recognized."""

from datetime import date
from hashlib import blake2b
from typing import NamedTuple


class Alike:
    """Tells which statements reduce to the same fact, so that each fact is found once.

    Dates play a part only by lying before or after the days that the policy names; when
    something was seen, and by whose list, plays none for one statement by itself.
    """

    def __init__(self, policy):
        self.days = sorted(day for day in vars(policy).values() if isinstance(day, date))

    def key(
        self,
        portion,
        era,
        material,
        basis,
        points,
        installed_on,
        installed_year,
        diameter_in,
        *more,
    ) -> tuple:
        """Return what is equal for statements that reduce to the same fact."""
        laid = installed_on
        if laid is None and installed_year is not None:
            laid = date(installed_year, 1, 1)
        elif isinstance(laid, str):
            laid = date.fromisoformat(laid)
        side = laid and tuple(laid >= day for day in self.days)
        return portion, era, material, basis, points, side, diameter_in, *more


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
