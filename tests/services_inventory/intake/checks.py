"""Single rows and whole files, checked as intake checks pieces of a file."""

from dataclasses import dataclass
from itertools import islice


@dataclass
class CheckedRow:
    """One good row: its values by name, and what was left out."""

    values: dict
    notes: list


def check(checker, row_number: int, cells) -> CheckedRow | list:
    """Check one row: its values, or every problem it has."""
    batch = checker.check_many([(row_number, list(cells))])
    if batch.problems:
        return batch.problems
    return CheckedRow({name: column[0] for name, column in batch.columns.items()}, batch.notes)


def check_all(checker, rows, size: int = 1_000):
    """Check all rows, one piece after another."""
    rows = iter(rows)
    while piece := list(islice(rows, size)):
        yield checker.check_many(piece)


def held_rows(batch) -> list[int]:
    """Return the numbers of the rows that are held, each once, in order."""
    return sorted({problem.row_number for problem in batch.problems})
