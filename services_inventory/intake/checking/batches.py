"""What checking gives back: good rows as columns, and what is wrong with the others."""

from collections.abc import Sequence
from dataclasses import dataclass

from services_inventory.intake.checking.problems import RowProblem, cut


@dataclass(frozen=True)
class CheckedBatch:
    """Good rows as columns, and the problems of the others.

    `columns` holds equally long lists by name: every mapped field, with `address` as text and
    `normal_address`, installed fields as `..._installed_year` and `..._installed_on`, bases
    with their words as `..._source`. What both sides share is given to each side.
    """

    row_numbers: list[int]
    columns: dict[str, list]
    problems: list[RowProblem]
    notes: list[RowProblem]
    words: Sequence[RowProblem] = ()  # of all rows, held or not, those that hold unknown words

    def column(self, name: str, default=None) -> list:
        """A column, or the default as often as there are rows."""
        found = self.columns.get(name)
        return [default] * len(self.row_numbers) if found is None else found


class Findings:
    """Problems and notes of a batch, by the row's place in it."""

    def __init__(self, rows: Sequence[int], by_position: Sequence[Sequence]):
        self.rows = rows
        self.by_position = by_position
        self.problems: list[RowProblem] = []
        self.notes: list[RowProblem] = []
        self.bad_places: set[int] = set()

    def add(
        self,
        at: int,
        column: str,
        where: int | None,
        why: str,
        *,
        held: bool = True,
        word: str = "",
    ) -> None:
        """Hold the row at a place in the batch for a cell, or note what was left out of it."""
        value = "" if where is None else cut(self.by_position[where][at])
        problem = RowProblem(self.rows[at], column, value, why, held, word)
        if held:
            self.problems.append(problem)
            self.bad_places.add(at)
        else:
            self.notes.append(problem)
