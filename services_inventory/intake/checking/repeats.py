"""The same location more than once in a file."""

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field


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
    """Collects 24 bytes a row, so that a million rows stay small; judges at the end."""

    def __init__(self):
        self._keys = array("q")
        self._contents = array("q")
        self._rows = array("q")

    def add(self, keys: Iterable[str], contents: Iterable, rows: Sequence[int]) -> None:
        """Note rows: the key of the location (the empty text: none) and the content, hashable."""
        self._keys.extend(map(hash, keys))
        self._contents.extend(map(hash, contents))
        self._rows.extend(rows)

    def find(self) -> Repeats:
        """All repeats so far, in the order of the file."""
        import numpy

        repeats = Repeats()
        if not self._keys:
            return repeats
        keys = numpy.frombuffer(self._keys, dtype=numpy.int64)
        order = numpy.argsort(keys, kind="stable")
        starts = numpy.flatnonzero(numpy.diff(keys[order], prepend=keys[order[0]] - 1))
        ends = numpy.append(starts[1:], len(order))
        many = (ends - starts > 1) & (keys[order[starts]] != hash(""))
        for start, end in zip(starts[many], ends[many], strict=True):
            self._judge(sorted(order[start:end].tolist()), repeats)
        repeats.same.sort()
        repeats.different.sort()
        return repeats

    def _judge(self, places: list[int], repeats: Repeats) -> None:
        rows = [self._rows[at] for at in places]
        if len({self._contents[at] for at in places}) == 1:
            repeats.same.extend((row, rows[0]) for row in rows[1:])
        else:
            repeats.different.append(rows)
