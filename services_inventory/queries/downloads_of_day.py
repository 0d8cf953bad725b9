"""The lines of a past day as a file: which category each had then, and why."""

from collections.abc import Iterator
from datetime import date, datetime

from ..domain.formulas import without_formula
from ..models.lines import CATEGORIES
from .counts import changes_standing_on
from .downloads import TEXTS, read_plainly, whole_csv

_FREE = (
    ("location id", "line__location_id"),
    ("address", "line__premise__address"),
    ("unit", "line__premise__unit"),
    *((heading, f"line__{path}") for heading, path in TEXTS),
    ("neighborhood", "line__neighborhood__name"),
)
_PLAIN = (
    ("latitude", "line__premise__latitude"),
    ("longitude", "line__premise__longitude"),
    ("category", "to_category"),
    ("category since", "effective_on"),
    ("reason", "decision__reason"),
    ("citation", "decision__citation"),
)
HEADINGS = tuple(heading for heading, _ in (*_FREE, *_PLAIN))
_FIELDS = ("line_id", *(field for _, field in (*_FREE, *_PLAIN)))
_CATEGORY = 1 + HEADINGS.index("category")


def csv_of_day(day: date, known_at: datetime | None = None) -> Iterator[str]:
    """Yield a CSV file of the lines that counted at the end of `day`, in order of entry.

    Category, since when and why are those of that day; the place is told as it is known today.
    """
    return whole_csv(HEADINGS, map(_disarmed, lines_of_day(day, known_at)))


def lines_of_day(day: date, known_at: datetime | None = None) -> Iterator[list[tuple]]:
    """Yield many lines at a time: the id of each, then the cells of `HEADINGS`."""
    words = dict(CATEGORIES)
    rows = changes_standing_on(day, known_at).order_by("line_id").values_list(*_FIELDS)
    for piece in read_plainly(rows):
        yield [(*row[:_CATEGORY], words[row[_CATEGORY]], *row[_CATEGORY + 1 :]) for row in piece]


def _disarmed(piece: list[tuple]) -> list[tuple]:
    """Return the cells without what a spreadsheet would run."""
    free = 1 + len(_FREE)
    return [
        (*(text and without_formula(text) for text in row[1:free]), *row[free:]) for row in piece
    ]
