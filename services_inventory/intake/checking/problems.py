"""What is wrong with a cell or a row, as sentences."""

from dataclasses import dataclass

LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Bad:
    """A cell's value that can't be taken; `why` says what is wrong and what to write.

    `word` : what stands there, where a person can say what it stands for
    """

    why: str
    word: str = ""


@dataclass(frozen=True, slots=True)
class RowProblem:
    """Why a row is held, or (not `held`) what was left out of a row that is taken in."""

    row_number: int
    column: str
    value: str
    sentence: str
    held: bool = True
    word: str = ""

    def __str__(self) -> str:
        """The whole sentence: row, column, value, what is wrong."""
        where = f"Row {self.row_number}"
        if self.column:
            where += f", column {self.column!r}"
        return f"{where}: {self.sentence}"


def cut(value) -> str:
    """A value as text, cut when long."""
    text = "" if value is None else str(value)
    return f"{text[:LONGEST_SHOWN]}..." if len(text) > LONGEST_SHOWN else text


def shown(value) -> str:
    """A value as quoted in a sentence."""
    return repr(cut(value))
