"""What a replacement plan document consists of, and what it says before it is printed.

Source: 40 CFR 141.84(c); each element's own source and mark stand in
`program/reference/plan_elements.toml`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from services_inventory.domain.reference import toml_of

OWN_WORDS = "The utility's own words"
MARKS = {"seen": "read in the source", "memory": "from memory, not yet read in the rule's text"}


@dataclass(frozen=True)
class Element:
    """One element that the rule asks for: when it applies and whose words it needs."""

    id: str
    heading: str
    citation: str
    source: str
    mark: str
    applies: str
    summary: str
    supplied_by: str
    asks: tuple[str, ...]
    number: int = 0

    @property
    def mark_in_words(self) -> str:
        """How surely the element is known."""
        return MARKS.get(self.mark, self.mark)


@dataclass(frozen=True)
class Missing:
    """One thing that the document lacks, and who must supply it.

    Where it does not block, the document is whole without it, and it is only to be settled.
    """

    what: str
    who: str
    blocks: bool = True


@dataclass(frozen=True)
class Table:
    """One table of the record's own figures; every cell is text as printed."""

    caption: str
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass
class Known:
    """What the record itself says on one element."""

    sentences: list[str] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)
    values: list[str] = field(default_factory=list)
    applies: bool = True

    def say(self, *sentences: str) -> None:
        """Add sentences."""
        self.sentences.extend(sentences)

    def show(self, caption: str, headings: Sequence[str], rows: Iterable[Sequence]) -> None:
        """Add a table, if it has rows."""
        cells = [["" if cell is None else str(cell) for cell in row] for row in rows]
        if cells:
            self.tables.append(Table(caption, list(headings), cells))

    def lack(self, what: str, who: str, blocks: bool = True) -> None:
        """Say what is not there, who must supply it, and whether the document waits for it."""
        self.missing.append(Missing(what, who, blocks))

    def use(self, *rule_ids: str) -> None:
        """Name the values of the rule that were used."""
        self.values.extend(rule_ids)


@cache
def elements() -> tuple[Element, ...]:
    """Return the elements in the document's order."""
    rows = toml_of("program", "plan_elements.toml")["element"]
    return tuple(
        Element(**row | {"asks": tuple(row["asks"])}, number=number)
        for number, row in enumerate(rows, start=1)
    )


def element_of(element_id: str) -> Element | None:
    """Return the element of an id, or None."""
    return next((one for one in elements() if one.id == element_id), None)


def blocking(missing: list[dict]) -> int:
    """Return how many of the missing things make the document a draft."""
    return sum(one["blocks"] for one in missing)
