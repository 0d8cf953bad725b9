"""What the rows of a file come to, and what the file itself says of them: counted, not kept long.

Of each row that is new by itself its outcome is noted, and of each row the category that the file
gives it. Both are a few bytes a row, so that a million of them stay small.
"""

from array import array
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from .. import bulk
from .checking import CheckedBatch
from .said import Standings

SAYS = (("row", "KEY"), ("said", "TEXT"), ("label", "TEXT"))
MOST_GROUPS = 100
SUPPOSES = ("", "UNKNOWN")  # what is supposed counts where nothing firmer is said


class Outlook:
    """The outcomes of new rows, and the categories that the file gives."""

    def __init__(self, standings: Standings):
        self.standings = standings
        self._rows, self._outcomes = array("q"), array("i")
        self._said_rows, self._said = array("q"), array("i")
        self._codes: dict[tuple[str, str], int] = {}

    def note(self, rows: Iterable[int], outcomes: Iterable[int]) -> None:
        """Note the outcome of rows that are new."""
        self._rows.extend(rows)
        self._outcomes.extend(outcomes)

    def hear(self, checked: CheckedBatch) -> None:
        """Note the category that the file gives to each row, if it gives any."""
        if {"category", "said_label"} & checked.columns.keys():
            said = checked.column("category", "")
            labels = checked.column("said_label", None)
            codes = self._codes
            self._said.extend(
                codes.setdefault((one, label or "" if one in SUPPOSES else ""), len(codes))
                for one, label in zip(said, labels, strict=True)
            )
            self._said_rows.extend(checked.row_numbers)

    @property
    def looked_at(self) -> int:
        """How many new rows were looked at."""
        return len(self._rows)

    @property
    def heard(self) -> bool:
        """Whether the file gives any line a category."""
        return any(any(code) for code in self._codes)

    def heard_rows(self) -> Iterator[int]:
        """Yield the rows of which the file gives a category or supposes one."""
        says = [any(code) for code in self._codes]
        pairs = zip(self._said_rows, self._said, strict=True)
        return (row for row, code in pairs if says[code])

    def of_new(self, left_out: Collection[int]) -> Counter[tuple[str, str]]:
        """Count the new rows by category and its reason."""
        outcomes = self._outcomes
        if left_out:
            pairs = zip(self._rows, outcomes, strict=True)
            found = Counter(outcome for row, outcome in pairs if row not in left_out)
        else:
            found = Counter(outcomes)
        counted: Counter[tuple[str, str]] = Counter()
        for outcome, rows in found.items():
            counted[self.standings.told[outcome]] += rows
        return counted

    def said_of_new(self, left_out: Collection[int]) -> Counter[tuple]:
        """Count (said, label, category, reason) of the rows that are new."""
        told, codes = self.standings.told, list(self._codes)
        category = dict(zip(self._rows, self._outcomes, strict=True))
        found = Counter(
            (code, category[row])
            for row, code in zip(self._said_rows, self._said, strict=True)
            if row in category and row not in left_out
        )
        return Counter({(*codes[one], *told[other]): rows for (one, other), rows in found.items()})

    def stage_said(self, left_out: Collection[int]) -> None:
        """Stage what the file says of each row as `intake_says`."""
        codes = list(self._codes)
        pairs = zip(self._said_rows, self._said, strict=True)
        rows = ((row, *codes[code]) for row, code in pairs if row not in left_out)
        bulk.stage("intake_says", SAYS, (row for row in rows if row[1] or row[2]))
        bulk.index("intake_says")


def differing(said: Iterable[tuple]) -> list[list]:
    """Return [said, category, reason, rows] where the file says otherwise, most first."""
    found: Counter[tuple] = Counter()
    for word, _, *told, rows in said:
        if word and word != told[0]:
            found[word, *told] += rows
    return [[*one, rows] for one, rows in found.most_common(MOST_GROUPS)]


def told_moves(moves: Iterable[Sequence], new: Counter[tuple[str, str]]) -> list[list]:
    """Return [from, to, lines], from the empty text for new lines; most first."""
    found: Counter[tuple[str, str]] = Counter()
    for before, after, lines in moves:
        found[before, after] += lines
    for (category, _), rows in new.items():
        found["", category] += rows
    return [[*one, lines] for one, lines in found.most_common()]
