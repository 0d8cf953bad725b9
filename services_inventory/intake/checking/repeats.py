"""The same location more than once in a file."""

from array import array
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

FEW = 100_000  # rows among which a set finds repeats before numpy would be loaded


@dataclass(frozen=True)
class Repeats:
    """Rows of one location.

    Parameters
    ----------
    same : pairs of a row and the earlier row that says exactly the same
    different : groups of rows of one location that say different things
    """

    same: list[tuple[int, int]] = field(default_factory=list)
    different: list[list[int]] = field(default_factory=list)


class RepeatFinder:
    """Collects 16 bytes a row, so that a million rows stay small; finds what repeats at the end."""

    def __init__(self):
        self._keys = array("q")
        self._rows = array("q")

    def add(self, keys: Iterable[str], rows: Sequence[int]) -> None:
        """Note rows and the key of the location of each (the empty text: none)."""
        self._keys.extend(map(hash, keys))
        self._rows.extend(rows)

    def groups(self) -> list[list[int]]:
        """The rows of each location that occurs more than once, in the order of the file."""
        if len(self._keys) <= FEW and len(set(self._keys)) == len(self._keys):
            return []
        import numpy

        keys = numpy.frombuffer(self._keys, dtype=numpy.int64)
        rows = numpy.frombuffer(self._rows, dtype=numpy.int64)
        order = numpy.argsort(keys, kind="stable")
        keys = keys[order]
        starts = numpy.flatnonzero(numpy.diff(keys, prepend=keys[0] - 1))
        ends = numpy.append(starts[1:], len(order))
        many = (ends - starts > 1) & (keys[starts] != hash(""))
        spans = zip(starts[many].tolist(), ends[many].tolist(), strict=True)
        return sorted(sorted(rows[order[start:end]].tolist()) for start, end in spans)


def judged(groups: Iterable[list[int]], contents: Mapping[int, Hashable]) -> Repeats:
    """Tell the rows that only repeat an earlier one from those that contradict each other."""
    repeats = Repeats()
    for rows in groups:
        if len({contents[row] for row in rows}) == 1:
            repeats.same.extend((row, rows[0]) for row in rows[1:])
        else:
            repeats.different.append(rows)
    repeats.same.sort()
    return repeats
