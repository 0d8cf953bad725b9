"""Deadlines of one duty on one day, told as one: a thousand letters are one act of an office."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from program.domain.deadlines.due import Due, DueState


@dataclass(frozen=True)
class Group:
    """The deadlines of one duty that fall on one day, at least one."""

    dues: tuple[Due, ...]

    @property
    def first(self) -> Due:
        """The deadline that stands for all of them."""
        return self.dues[0]

    @property
    def number(self) -> int:
        """How many there are."""
        return len(self.dues)

    @property
    def key(self) -> str:
        """What the group is: of a single deadline its own key, else the duty and the day."""
        first = self.first
        if self.number == 1:
            return first.key
        return f"{first.rule_id}/{first.what}/{first.due_on.isoformat()}"

    def state(self, as_of: date) -> DueState:
        """How it stands: what falls on one day stands alike."""
        return self.first.state(as_of)


def grouped(dues: Iterable[Due]) -> list[Group]:
    """Return the deadlines by duty and day, in the order in which each first appears."""
    found: dict[tuple, list[Due]] = {}
    for due in dues:
        found.setdefault((due.rule_id, due.what, due.due_on, due.done_on), []).append(due)
    return [Group(tuple(some)) for some in found.values()]
