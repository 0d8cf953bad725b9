"""Text made fit for a cell: no control characters, no over-long string."""

import re
from dataclasses import dataclass, field

CELL_LENGTH_MAX = 32_767  # what one worksheet cell holds
_BREAKS = re.compile(r"[\t\r\n\x0b\x0c\x85\u2028\u2029]+")
_UNFIT = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
APOSTROPHE_NOTE = (
    "Text that a spreadsheet could take for a formula (it starts with = + - @, a tab or a "
    "carriage return) stands after an apostrophe in CSV files; take the apostrophe off to get "
    "the text as it was recorded. The workbook, JSON and GeoPackage hold the text without it."
)


@dataclass
class Notes:
    """What was altered in the text, so that a reader can look it up; keeps the first 200."""

    kept: list[str] = field(default_factory=list)
    altered: int = 0
    _KEEP = 200

    def add(self, where: str, what: str) -> None:
        """Record one alteration at one place."""
        self.altered += 1
        if len(self.kept) < self._KEEP:
            self.kept.append(f"{where}: {what}.")

    def lines(self) -> tuple[str, ...]:
        """Return the sentences, with one more when some were left off."""
        left = self.altered - len(self.kept)
        more = (f"{left} more alterations of the same kinds are not listed.",) if left else ()
        return (*self.kept, *more)


def clean(text: str, notes: Notes, where: str) -> str:
    """Return the text fit for every reader: breaks become spaces, control characters go."""
    plain = _BREAKS.sub(" ", text)
    plain, dropped = _UNFIT.subn("", plain)
    if dropped:
        notes.add(where, f"{dropped} control characters were left out")
    elif plain != text:
        notes.add(where, "line breaks or tabs became spaces")
    if len(plain) > CELL_LENGTH_MAX:
        notes.add(where, f"cut after {CELL_LENGTH_MAX} of {len(plain)} characters")
        plain = plain[:CELL_LENGTH_MAX]
    return plain
