"""The shortest way through a few places, each once, starting and ending where it likes.

Up to twelve places the answer is exact (Held and Karp, 1962: dynamic programming over subsets).
Beyond that a nearest-neighbour way is shortened by turning stretches round, then every ten places
in a row are put in their best order exactly.
"""

from __future__ import annotations

from program.planning.geometry import distance_m

EXACT_PLACES = 12
_WINDOW = 10


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
    return _windows(_turned(_nearest(table), table), table)


def _exact(table, first, last) -> list[int]:
    count = len(table)
    full = (1 << count) - 1
    starts = range(count) if first is None else (first,)
    best = {(1 << k, k): (0.0, -1) for k in starts}
    layer = dict(best)
    for _ in range(count - 1):
        grown: dict[tuple[int, int], tuple[float, int]] = {}
        for (seen, at), (so_far, _) in layer.items():
            row = table[at]
            for to in range(count):
                if seen >> to & 1:
                    continue
                key, length = (seen | 1 << to, to), so_far + row[to]
                if key not in grown or length < grown[key][0] - 1e-9:
                    grown[key] = (length, at)
        best.update(grown)
        layer = grown
    ends = range(count) if last is None else (last,)
    at = min((end for end in ends if (full, end) in best), key=lambda end: best[full, end][0])
    order, seen = [], full
    while at != -1:
        order.append(at)
        before = best[seen, at][1]
        seen, at = seen & ~(1 << at), before
    order.reverse()
    return order


def _nearest(table) -> list[int]:
    # Begin at the place farthest from all others: a way that starts in the middle goes back.
    at = max(range(len(table)), key=lambda k: (round(sum(table[k]), 6), -k))
    order, left = [at], set(range(len(table))) - {at}
    while left:
        at = min(left, key=lambda k: (table[at][k], k))
        order.append(at)
        left.remove(at)
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
