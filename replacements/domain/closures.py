"""Closed block faces: a street between two house numbers, one side or both, and the days.

In the United States houses on one side of a street commonly have even numbers and those on the
other odd ones [common practice, no source]; where a town numbers otherwise, close both sides.
"""

from dataclasses import dataclass
from datetime import date

from services_inventory.domain.days import day_told
from services_inventory.domain.labels import Labeled


class Side(Labeled):
    """Which houses of a block are meant."""

    BOTH = "BOTH", "both sides"
    EVEN = "EVEN", "even-numbered side"
    ODD = "ODD", "odd-numbered side"


@dataclass(frozen=True)
class ClosedFace:
    """One closed face; without numbers the whole street is closed.

    first, last : house numbers, both within
    """

    street: str
    first: int | None
    last: int | None
    side: Side
    first_day: date
    last_day: date
    reason: str = ""

    def covers(self, number: int | None) -> bool:
        """Tell whether a house of the street lies in the face.

        A house without a number is covered where the whole street is closed on both sides.
        """
        if number is None:
            return self.first is None and self.side is Side.BOTH
        if self.first is not None and self.last is not None:
            if not self.first <= number <= self.last:
                return False
        return self.side is Side.BOTH or (number % 2 == 0) == (self.side is Side.EVEN)

    def closed_on(self, day: date) -> bool:
        """Tell whether nobody may dig there on a day."""
        return self.first_day <= day <= self.last_day

    @property
    def where(self) -> str:
        """The face in words."""
        if self.first is None:
            numbers = ""
        elif self.first == self.last:
            numbers = f" {self.first}"
        else:
            numbers = f" {self.first} to {self.last}"
        return f"{self.street}{numbers}, {self.side.label}"

    @property
    def sentence(self) -> str:
        """The face, its days and the reason in words."""
        why = f" ({self.reason})" if self.reason else ""
        first, last = day_told(self.first_day), day_told(self.last_day)
        return f"{self.where}: closed to digging from {first} to {last}{why}"
