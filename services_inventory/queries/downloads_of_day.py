"""The lines of a past day as a file: which category each had then, and why."""

from collections.abc import Iterator
from datetime import date, datetime

from ..domain.formulas import without_formula
from ..models.lines import CATEGORIES
from .counts import changes_standing_on
from .downloads import csv_pieces, read_plainly

_FREE = (
    ("location id", "line__location_id"),
    ("address", "line__premise__address"),
    ("unit", "line__premise__unit"),
    ("city", "line__premise__city"),
    ("postcode", "line__premise__postcode"),
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
_CATEGORY = HEADINGS.index("category")


def csv_of_day(day: date, known_at: datetime | None = None) -> Iterator[str]:
    """Yield a CSV file of the lines that counted at the end of `day`, in order of entry.

    Category, since when and why are those of that day; the place is told as it is known today.
    """
    rows = changes_standing_on(day, known_at).order_by("line_id")
    fields = (field for _, field in (*_FREE, *_PLAIN))
    return csv_pieces(HEADINGS, _worded(rows.values_list(*fields)))


def _worded(rows) -> Iterator[list[tuple]]:
    words, free = dict(CATEGORIES), len(_FREE)
    for piece in read_plainly(rows):
        yield [
            (
                *(text and without_formula(text) for text in row[:free]),
                *row[free:_CATEGORY],
                words[row[_CATEGORY]],
                *row[_CATEGORY + 1 :],
            )
            for row in piece
        ]
