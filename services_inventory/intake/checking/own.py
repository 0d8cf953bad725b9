"""A utility's own words: what people said each stands for, and which nobody has told of yet."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from types import MappingProxyType

from services_inventory.domain.columns import ValueKind
from services_inventory.domain.words import Reading
from services_inventory.intake.checking.problems import RowProblem, cut
from services_inventory.intake.checking.values import (
    SHORT_YEAR,
    TWO_DIGIT_YEARS,
    code,
    text_of,
)

MOST_WORDS = 300  # that one check asks for; a column with more is hardly one of words
EXAMPLES = 3
YEARS = (ValueKind.INSTALLED, ValueKind.DATE, ValueKind.YEAR)
_ENDS_IN_YEAR = re.compile(r"(.*?)(\d{2})((?:[T ].*)?)", re.DOTALL)

# (heading, kind of value) -> {word: what it stands for}, all but the last by `word_key`.
OwnWords = Mapping[tuple[str, str], Mapping[str, str]]
NO_WORDS: OwnWords = MappingProxyType({})


def word_key(text: str) -> str:
    """Return what a word or a heading is found again by: capitals and spaces don't count."""
    return " ".join(text.split()).casefold()


def reader_of(read_words: Callable[[str], Reading], own: Mapping[str, str]) -> Callable:
    """Return a reader of words that asks what a person said first, then the list of words."""

    def read(text: str) -> Reading:
        found = own.get(word_key(text))
        return Reading(found) if found else read_words(text)

    return code(read)


def with_century(read: Callable, first: str) -> Callable:
    """Return a reader of days and years that takes two digits from `first` on for 19xx.

    Those below are 20xx.

    Examples
    --------
    >>> with_century(str, "30")("5/12/34"), with_century(str, "30")("07")
    ('5/12/1934', '2007')
    """

    def read_with_century(cell):
        text = text_of(cell)
        if isinstance(text, str) and (SHORT_YEAR.fullmatch(text) or _two_digits(text)):
            before, year, after = _ENDS_IN_YEAR.fullmatch(text.partition(".0")[0]).groups()
            return read(f"{before}{19 if year >= first else 20}{year}{after}")
        return read(cell)

    return read_with_century


def _two_digits(text: str) -> bool:
    return text.isdecimal() and len(text) == 2


def has_word(cell, key: str) -> bool:
    """Tell whether a cell holds a word, given by its `word_key`."""
    text = text_of(cell)
    if not isinstance(text, str):
        return False
    if key == word_key(TWO_DIGIT_YEARS):
        return bool(SHORT_YEAR.fullmatch(text)) or _two_digits(text)
    return word_key(text) == key


@dataclass
class Unread:
    """A word that nobody has told of: in which column, in how many rows, some of them."""

    heading: str
    field: str
    kind: str
    word: str
    held: bool
    rows: int = 0
    examples: list[tuple[int, str]] = field(default_factory=list)


class Tally:
    """Counts the words that were not understood while a file is checked."""

    def __init__(self, fields: Mapping[str, tuple[str, ValueKind]]):
        """`fields` : {heading: (field, kind)}."""
        self.fields = fields
        self.found: dict[tuple[str, str], Unread] = {}
        self.more = 0

    def add(self, problems: Iterable[RowProblem], rows: Sequence[tuple]) -> None:
        """Count the words that problems of these rows tell of."""
        cells = {}
        for one in problems:
            known = self._of(one)
            if known is None:
                continue
            known.rows += 1
            if len(known.examples) < EXAMPLES:
                cells = cells or dict(rows)
                told = " · ".join(
                    cut(cell) for cell in cells[one.row_number] if cell not in (None, "")
                )
                known.examples.append((one.row_number, told[:200]))

    def _of(self, one: RowProblem) -> Unread | None:
        key = one.column, word_key(one.word)
        if key not in self.found:
            if len(self.found) >= MOST_WORDS:
                self.more += 1
                return None
            field_key, kind = self.fields[one.column]
            self.found[key] = Unread(one.column, field_key, kind.value, one.word, one.held)
        return self.found[key]

    def told(self) -> list[dict]:
        """Return the words as plain JSON, those that hold rows first, and of these the most."""
        order = sorted(self.found.values(), key=lambda one: (not one.held, -one.rows))
        return [asdict(one) for one in order]


__all__ = [
    "NO_WORDS",
    "TWO_DIGIT_YEARS",
    "YEARS",
    "OwnWords",
    "Tally",
    "has_word",
    "reader_of",
    "with_century",
    "word_key",
]
