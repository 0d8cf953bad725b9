"""Rows in pieces, by column, as they go from the process that reads a file to the one that checks.

Most columns of a list hold few words, many times each: of these only the distinct cells are sent,
and a byte a row says which of them stands there. Who reads such a column reads each word once.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import islice

from services_inventory.intake.reading.table import Row

ROWS_AT_ONCE = 1_000  # more no longer fit the processor's cache
ROWS_TURNED_AT_ONCE = 200  # so few that their cells are still at hand when they are looked up
MOST_DISTINCT = 256


class Few(Sequence):
    """A column of few distinct cells: these, and the place among them of each row's."""

    __slots__ = ("places", "values")

    def __init__(self, values: list, places: bytes):
        self.values, self.places = values, places

    def __len__(self) -> int:
        """How many rows there are."""
        return len(self.places)

    def __getitem__(self, at):
        """The cell of one row."""
        return self.values[self.places[at]]

    def __iter__(self) -> Iterator:
        """Yield the cell of each row."""
        return map(self.values.__getitem__, self.places)


def mapped(function: Callable, cells: Sequence) -> list:
    """Return what a function makes of each cell; of equal ones of a column of few, once."""
    if isinstance(cells, Few):
        return list(map(list(map(function, cells.values)).__getitem__, cells.places))
    return list(map(function, cells))


class Piece:
    """Some rows of a file: as rows, or by column where each has a cell under every heading.

    Parameters
    ----------
    sent : a list of rows, or (row numbers, columns), a column of few words as (cells, places)
    """

    def __init__(self, sent: list[Row] | tuple):
        self.columns: list[Sequence] | None = None
        if isinstance(sent, tuple):
            self.numbers, columns = sent
            self.columns = [Few(*one) if type(one) is tuple else one for one in columns]
        else:
            self.rows = sent
            self.numbers = [number for number, _ in sent]

    @cached_property
    def rows(self) -> list[Row]:
        """The rows, each its number and its cells."""
        cells = map(list, zip(*self.columns or (), strict=True))
        return list(zip(self.numbers, cells, strict=True))

    def __iter__(self) -> Iterator[Row]:
        """Yield the rows."""
        return iter(self.rows)

    def __len__(self) -> int:
        """How many rows there are."""
        return len(self.numbers)

    def hashes(self) -> Iterator[int]:
        """Yield a number for each row's cells, equal where these are equal."""
        if self.columns is None:
            return (hash(tuple(cells)) for _, cells in self.rows)
        return map(hash, zip(*self.columns, strict=True))


class _Places(dict):
    """Numbers each distinct cell in the order in which they come."""

    def __missing__(self, cell) -> int:
        place = self[cell] = len(self)
        return place


def turned(rows: Iterator[Row], width: int) -> Iterator[list[Row] | tuple]:
    """Yield rows of texts in pieces for `Piece`; some of another width as they are.

    A column that once had many distinct cells is taken to go on so, and sent as it is.
    """
    many: set[int] = set()
    some = list(islice(rows, ROWS_TURNED_AT_ONCE))
    while some:
        numbers: list[int] = []
        columns: list[list] = [[] for _ in range(width)]
        places = {at: _Places() for at in range(width) if at not in many}
        while some and len(numbers) < ROWS_AT_ONCE:
            of_some, cells = zip(*some, strict=True)
            if set(map(len, cells)) != {width}:
                break
            numbers += of_some
            for at, column in enumerate(zip(*cells, strict=True)):
                columns[at] += map(places[at].__getitem__, column) if at in places else column
            some = list(islice(rows, ROWS_TURNED_AT_ONCE))
        if numbers:
            yield numbers, list(_packed(columns, places, many))
        else:
            yield some
            some = list(islice(rows, ROWS_TURNED_AT_ONCE))


def _packed(columns: list[list], places: dict[int, _Places], many: set[int]) -> Iterable:
    for at, column in enumerate(columns):
        if at not in places:
            yield column
        elif len(places[at]) <= MOST_DISTINCT:
            yield list(places[at]), bytes(column)
        else:
            many.add(at)
            yield list(map(list(places[at]).__getitem__, column))
