"""Reading the published tables of `replacements/reference/`: CSV, a source and a mark on every row.

A mark says how surely a row is known: seen (read in the source named), memory (trade or
textbook knowledge, not read again), derived (worked out from other rows), judgment (a
proposed default that a utility owns), practice (common practice, no source).
"""

from dataclasses import dataclass
from functools import cache

from services_inventory.domain.reference import rows_of

MARKS = ("seen", "memory", "derived", "judgment", "practice")


class BadTable(Exception):
    """A shipped table cannot be read; names the file and the line."""


@dataclass(frozen=True)
class Constant:
    """One constant of a table whose columns are constant, key, value, unit, source, mark."""

    value: float
    unit: str
    source: str
    mark: str

    @property
    def cited(self) -> str:
        """The source with its mark, as a finding shows it."""
        return cited(self.source, self.mark)


def cited(source: str, mark: str) -> str:
    """Return the source followed by its mark in square brackets."""
    return f"{source} [{mark}]"


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of one table as text, in the order of the file.

    Raises
    ------
    BadTable: a row has more or fewer cells than the heading, no source, or an unknown mark.
    """
    found = rows_of("replacements", f"{name}.csv")
    for line, row in enumerate(found, start=2):
        if None in row or None in row.values():
            raise BadTable(f"{name}.csv line {line}: the cells do not match the heading.")
        if not row["source"] or row["mark"] not in MARKS:
            raise BadTable(f"{name}.csv line {line}: every row needs a source and a mark.")
    return found


@cache
def constants(name: str) -> dict[tuple[str, str], Constant]:
    """Return the constants of one table by (constant, key)."""
    return {
        (row["constant"], row["key"]): Constant(
            float(row["value"]), row["unit"], row["source"], row["mark"]
        )
        for row in rows(name)
    }


@cache
def series(name: str, constant: str) -> tuple[tuple[float, float], ...]:
    """Return (key, value) pairs of one constant, ordered by a key that is a number."""
    found = constants(name).items()
    return tuple(sorted((float(key), c.value) for (what, key), c in found if what == constant))


def interpolate(pairs: tuple[tuple[float, float], ...], at: float) -> float:
    """Return the value at a key, on straight lines between pairs and level beyond their ends."""
    if at <= pairs[0][0]:
        return pairs[0][1]
    for (x0, y0), (x1, y1) in zip(pairs, pairs[1:], strict=False):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return pairs[-1][1]
