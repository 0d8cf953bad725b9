"""What rows of a file say about their lines: each distinct statement once, by a number.

The standing of a line that is new with its row follows from the row alone, so it is found here
and no evidence has to be read again for it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache

from ..domain.evidence import Basis, contradictions
from ..facts import Facts
from ..statements import Statement, content_key


class EachOnce(dict):
    """Finds what each combination stands for once, and is asked for many by `map`."""

    def __init__(self, find: Callable[..., int | None]):
        super().__init__()
        self.find = find

    def __missing__(self, parts: tuple) -> int | None:
        found = self[parts] = self.find(*parts)
        return found


@dataclass(frozen=True)
class Source:
    """How a file's materials are known where a row doesn't say: basis code and words."""

    basis: str = Basis.NOT_STATED.value
    words: str = ""


class Statements:
    """Every distinct statement of a file, numbered from 1; 0 says nothing.

    Parameters
    ----------
    source : what stands for a basis that a row leaves out
    recorded_at : when the statements are recorded
    true_since : the day since when they are true; None: since they are recorded
    """

    def __init__(self, source: Source, recorded_at: datetime, true_since: date | None = None):
        self.source = source
        self.recorded_at = recorded_at
        self.true_since = true_since
        self.said: list[Statement] = []
        self.refused: dict[int, str] = {}
        self.replacements: dict[int, date] = {}
        self._numbers: dict[Statement, int] = {}
        self._keys: list[int] = []

    def number(self, portion: str, era: str, material: str, basis: str, *rest) -> int:
        """Return the number of a statement; 0 where there is nothing to record.

        An unknown material is recorded only with a date or a size, and only by a basis that
        the rule lets speak by date or size; otherwise nothing is said.
        """
        basis, source = (basis, rest[-1]) if basis else (self.source.basis, self.source.words)
        statement = Statement(
            portion, era, material or "UNKNOWN", basis, *rest[:-1], source or self.source.words
        )
        if statement.material == "UNKNOWN" and not _speaks_by_date_or_size(statement):
            return 0
        number = self._numbers.get(statement)
        if number is None:
            number = self._numbers[statement] = len(self.said) + 1
            self.said.append(statement)
            self._judge(number, statement)
        return number

    def _judge(self, number: int, statement: Statement) -> None:
        # The checker has seen to days, years and sizes: only points can still contradict.
        if statement.points_seen and not _inspects(statement.basis):
            self.refused[number] = " ".join(contradictions(statement.record(self.recorded_at)))
        if statement.basis == Basis.REPLACEMENT and statement.observed_on:
            self.replacements[number] = statement.observed_on

    def may_be_refused(self, points: int, basis: str) -> bool:
        """Whether a side with these cells would say something that cannot be true."""
        return bool(points) and not _inspects(basis or self.source.basis)

    def content_keys(self) -> list[int]:
        """Return the content key of each statement so far, in the order of their numbers."""
        self._keys += map(content_key, self.said[len(self._keys) :])
        return self._keys

    def rows(self, fact_codes: list[int | None]) -> Iterator[tuple]:
        """Yield (number, statement …, content key, fact code, since when true) for staging."""
        said = zip(self.said, self.content_keys(), fact_codes, strict=True)
        for number, (statement, key, code) in enumerate(said, start=1):
            yield number, *statement, key, code, self._counts_from(statement)

    def _counts_from(self, statement: Statement) -> date | None:
        """Since when a statement is true; of a pipe laid later than that, since it was laid.

        A replacement reaches back to the day of its work by itself.
        """
        since = self.true_since
        if since is None or statement.basis == Basis.REPLACEMENT:
            return None
        laid = statement.record(self.recorded_at).laid_on if statement.era == "NOW" else None
        return max(since, laid) if laid else since


STATEMENT_COLUMNS = (
    ("id", "KEY"), ("portion", "TEXT"), ("era", "TEXT"), ("material", "TEXT"), ("basis", "TEXT"),
    ("points_seen", "INTEGER"), ("observed_on", "DATE"), ("installed_on", "DATE"),
    ("installed_year", "INTEGER"), ("diameter_in", "REAL"), ("source", "TEXT"),
    ("content_key", "INTEGER"), ("fact_code", "INTEGER"), ("counts_from", "DATE"),
)  # fmt: skip


@cache
def _inspects(basis: str) -> bool:
    return Basis(basis).traits.inspection


def _speaks_by_date_or_size(statement: Statement) -> bool:
    dated = statement.installed_on or statement.installed_year or statement.diameter_in
    return bool(dated and Basis(statement.basis).traits.record)


class Standings:
    """The outcome of a line that is known by one row alone.

    Statements that reduce to the same fact are interchangeable here: with one statement a
    portion and era no order of days plays a part.
    """

    def __init__(self, statements: Statements, weigher):
        self.statements = statements
        self.weigher = weigher
        self.facts = Facts(weigher.policy)
        self._fact_of: list[int] = [0]
        self._outcomes = EachOnce(self._outcome)
        self.told: dict[int, tuple[str, str]] = {}  # of each outcome, its category and reason

    def outcomes(self, slots: Sequence[Sequence[int]]) -> list[int]:
        """Return the number of the outcome of each row, given its statements by slot."""
        self._reduce()
        facts = (map(self._fact_of.__getitem__, numbers) for numbers in slots)
        return list(map(self._outcomes.__getitem__, zip(*facts, strict=True)))

    def _outcome(self, *facts: int) -> int:
        judged = self.weigher.judge_facts(self.facts.found[one] for one in facts if one)
        outcome = self.weigher.number(judged.outcome)
        self.told[outcome] = judged.classification.category.value, judged.classification.reason
        return outcome

    def fact_codes(self) -> list[int | None]:
        """Return the code of what each statement reduces to, in the order of their numbers."""
        self._reduce()
        return [self.facts.codes[fact] for fact in self._fact_of[1:]]

    def sums(self) -> Iterator[tuple[int, list[int]]]:
        """Yield (sum, codes) of the rows met, where everything they say has a code."""
        for facts in self._outcomes:
            codes = sorted(self.facts.codes[fact] or 0 for fact in facts if fact)
            if codes and codes[0]:
                yield sum(codes), codes

    def _reduce(self) -> None:
        for said in self.statements.said[len(self._fact_of) - 1 :]:
            self._fact_of.append(self.facts.number(*said[:5], *said[6:9]))

    def outcomes_of(self, rows: list[tuple]) -> Iterator[tuple[int, int]]:
        """Yield (row, outcome) of rows (row, statement by slot …)."""
        if rows:
            numbers, *slots = zip(*rows, strict=True)
            yield from zip(numbers, self.outcomes(slots), strict=True)
