"""The shortest way through a few places, each once, starting and ending where it likes.

Up to twelve places the answer is exact (Held and Karp, 1962: dynamic programming over subsets).
Beyond that nearest-neighbor ways from the outermost places are shortened by turning and moving
stretches, and of the best every ten places in a row are put in their best order exactly.
"""

from __future__ import annotations

from program.planning.geometry import distance_m

EXACT_PLACES = 12
_WINDOW, _STARTS = 10, 6


def shortest_order(points) -> list[int]:
    """Indices of (lat, lon) points in the order of travel; equal ways are told apart by index."""
    points = list(points)
    table = [[distance_m(a, b) for b in points] for a in points]
    return shortest_path(table)


def path_length(order, table) -> float:
    """Length of an open path over a table of distances."""
    return sum(table[a][b] for a, b in zip(order, order[1:], strict=False))


def shortest_path(table, first: int | None = None, last: int | None = None) -> list[int]:
    """The shortest open path over a square table of distances, with fixed ends where given."""
    count = len(table)
    if count <= 2 and first is None:
        return list(range(count))
    if count <= EXACT_PLACES:
        return _exact(table, first, last)
    ways = [_improved(_nearest(table, start), table) for start in _starts(table)]
    best = min(ways, key=lambda order: (round(path_length(order, table), 6), order))
    return _windows(best, table)


def _exact(table, first, last) -> list[int]:
    import numpy as np

    count = len(table)
    lengths = np.array(table, dtype=float)
    best = np.full((1 << count, count), np.inf)
    came = np.full((1 << count, count), -1, dtype=np.int8)
    for start in range(count) if first is None else (first,):
        best[1 << start, start] = 0.0
    bits = 1 << np.arange(count)
    for seen in range(1, 1 << count):
        through = best[seen][:, None] + lengths
        onward = through.argmin(axis=0)
        length = through[onward, np.arange(count)]
        fresh = np.flatnonzero((seen & bits) == 0)
        into = seen | bits[fresh]
        best[into, fresh], came[into, fresh] = length[fresh], onward[fresh]
    return _traced(best, came, last)


def _traced(best, came, last) -> list[int]:
    seen = len(best) - 1
    at = int(best[seen].argmin()) if last is None else last
    order = []
    while at != -1:
        order.append(at)
        seen, at = seen & ~(1 << at), int(came[seen, at])
    return order[::-1]


def _starts(table) -> list[int]:
    # Places far from all others make good ends; a way that starts in the middle goes back.
    far = sorted(range(len(table)), key=lambda k: (-round(sum(table[k]), 6), k))
    return far[:_STARTS]


def _nearest(table, at: int) -> list[int]:
    order, left = [at], set(range(len(table))) - {at}
    while left:
        at = min(left, key=lambda k: (table[at][k], k))
        order.append(at)
        left.remove(at)
    return order


def _improved(order: list[int], table) -> list[int]:
    length = path_length(order, table)
    while True:
        order = _moved(_turned(order, table), table)
        shorter = path_length(order, table)
        if shorter >= length - 1e-9:
            return order
        length = shorter


def _moved(order: list[int], table) -> list[int]:
    """Stretches of one to three places taken out and put where they cost least."""
    for size in (3, 2, 1):
        for start in range(len(order) - size + 1):
            part, rest = order[start : start + size], order[:start] + order[start + size :]
            ways = [
                rest[:k] + piece + rest[k:]
                for k in range(len(rest) + 1)
                for piece in (part, part[::-1])
            ]
            best = min(ways, key=lambda way: path_length(way, table))
            if path_length(best, table) < path_length(order, table) - 1e-9:
                order = best
    return order


def _turned(order: list[int], table) -> list[int]:
    improved = True
    while improved:
        improved = False
        for i in range(len(order) - 1):
            for j in range(i + 1, len(order)):
                if _gain(order, table, i, j) > 1e-9:
                    order[i : j + 1] = reversed(order[i : j + 1])
                    improved = True
    return order


def _gain(order, table, i: int, j: int) -> float:
    before = after = 0.0
    if i > 0:
        before += table[order[i - 1]][order[i]]
        after += table[order[i - 1]][order[j]]
    if j + 1 < len(order):
        before += table[order[j]][order[j + 1]]
        after += table[order[i]][order[j + 1]]
    return before - after


def _windows(order: list[int], table) -> list[int]:
    for start in range(0, len(order) - _WINDOW + 1, _WINDOW // 2):
        part = order[start : start + _WINDOW]
        small = [[table[a][b] for b in part] for a in part]
        first = 0 if start > 0 else None
        last = len(part) - 1 if start + _WINDOW < len(order) else None
        order[start : start + _WINDOW] = [part[k] for k in _exact(small, first, last)]
    return order
