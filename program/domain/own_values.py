"""The State's and the utility's own values through time, from append-only rows.

A row sets a value from a day on, ends one on a day, or takes a row back as never true. Nothing
is edited: the period of each value follows from all rows. A newer row of one jurisdiction ends
the older on its own first day; where the newer is taken back, the older holds again.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Self

from services_inventory.domain.labels import Labeled


class Act(Labeled):
    """What a row does."""

    SET = "SET"
    END = "END", "ended"
    WITHDRAW = "WITHDRAW", "taken back"


@dataclass(frozen=True, kw_only=True)
class OwnRow:
    """One row; `about`: the row that it ends or takes back. Ids rise as rows are recorded."""

    id: int
    act: Act
    value_id: str
    jurisdiction: str
    effective_from: date
    about: int | None = None


@dataclass(frozen=True)
class Period:
    """When a set value holds: from `first` until before `until`; `by` is the row that says so.

    A value that was taken back, or replaced before it began, holds on no day.
    """

    row: OwnRow
    until: date | None = None
    by: OwnRow | None = None
    withdrawn_by: OwnRow | None = None

    @property
    def first(self) -> date:
        """The first day it holds."""
        return self.row.effective_from

    @property
    def is_empty(self) -> bool:
        """Whether it holds on no day."""
        return self.withdrawn_by is not None or (
            self.until is not None and self.until <= self.first
        )

    def holds_on(self, day: date) -> bool:
        """Whether it holds on a day."""
        ended = self.until is not None and self.until <= day
        return self.withdrawn_by is None and self.first <= day and not ended


def withdrawals(rows: Sequence[OwnRow]) -> dict[int, OwnRow]:
    """Return {id of a row: the row that takes it back}; one that is itself taken back counts not.

    A row can only be about an earlier one, so going through them backwards settles all.
    """
    found: dict[int, OwnRow] = {}
    for row in sorted(rows, key=lambda row: row.id, reverse=True):
        if row.act is Act.WITHDRAW and row.about is not None and row.id not in found:
            found[row.about] = row
    return found


def periods(rows: Iterable[OwnRow]) -> dict[int, Period]:
    """Return the period of every row that sets a value, by its id."""
    rows = list(rows)
    back = withdrawals(rows)
    ends = {row.about: row for row in rows if row.act is Act.END and row.id not in back}
    sets = [row for row in rows if row.act is Act.SET]
    found = {row.id: Period(row, withdrawn_by=back[row.id]) for row in sets if row.id in back}
    live = sorted((row for row in sets if row.id not in back), key=_order)
    for _, of_one in groupby(live, key=_whose):
        those = list(of_one)
        for row, newer in zip(those, [*those[1:], None], strict=True):
            ended = [(one.effective_from, one) for one in (newer, ends.get(row.id)) if one]
            until, by = min(ended, key=lambda end: end[0], default=(None, None))
            found[row.id] = Period(row, until, by)
    return found


def _whose(row: OwnRow) -> tuple[Hashable, ...]:
    return row.value_id, row.jurisdiction


def _order(row: OwnRow) -> tuple:
    return *_whose(row), row.effective_from, row.id


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """A row as a person proposes it; `value` is plain JSON, as it is recorded."""

    act: Act
    value_id: str
    jurisdiction: str
    effective_from: date
    value: object = None
    about: int | None = None
    citation: str = ""

    def as_json(self) -> dict:
        """Return it as it is kept with its rehearsal."""
        return {**vars(self), "effective_from": self.effective_from.isoformat()}

    @classmethod
    def of_json(cls, kept: dict) -> Self:
        """Return a proposal as `as_json` wrote it."""
        day = date.fromisoformat(kept["effective_from"])
        return cls(**{**kept, "act": Act(kept["act"]), "effective_from": day})
