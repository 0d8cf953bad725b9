"""What one row of evidence says, and a number by which equal statements are recognized."""

from datetime import UTC, date, datetime
from hashlib import blake2b
from typing import NamedTuple

from .domain.evidence import Basis, Era, EvidenceRecord, Portion
from .domain.materials import Material

_ANY_DAY = datetime(2000, 1, 1, tzinfo=UTC)  # when it was recorded bears on no single statement


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

    def record(self, recorded_at: datetime = _ANY_DAY) -> EvidenceRecord:
        """Return it as the domain weighs it."""
        return EvidenceRecord(
            id=0,
            portion=Portion(self.portion),
            material=Material(self.material),
            basis=Basis(self.basis),
            recorded_at=recorded_at,
            era=Era(self.era),
            points_seen=self.points_seen,
            observed_on=self.observed_on,
            installed_on=self.installed_on,
            installed_year=self.installed_year,
            diameter_in=self.diameter_in,
        )


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
