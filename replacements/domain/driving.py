"""The order in which one drives to many places: near ones one after the other, no crossing back.

Nearest next, then every pair of legs that cross is untangled (2-opt): no proof that it is the
shortest, and good enough to drive. Streets are not known here; a person may go another way.
"""

import math
from collections.abc import Sequence

_ROUNDS = 12


def driving_order(places: Sequence[tuple[float, float] | None]) -> list[int]:
    """Return the indices of places in driving order; those without a position come last.

    Parameters
    ----------
    places : latitude and longitude, degrees

    Examples
    --------
    >>> driving_order([(41.0, -100.3), None, (41.2, -100.3), (41.1, -100.3)])
    [0, 3, 2, 1]
    """
    known = {at: place for at, place in enumerate(places) if place is not None}
    unknown = [at for at in range(len(places)) if at not in known]
    if not known:
        return unknown
    middle = math.cos(math.radians(sum(lat for lat, _ in known.values()) / len(known)))
    flat = {at: (lat, lon * middle) for at, (lat, lon) in known.items()}
    # The south-western corner is where anybody can begin, and the same each time.
    path = _nearest_next(flat, min(flat, key=lambda at: (sum(flat[at]), at)))
    for _ in range(_ROUNDS):
        if not _untangle(path, flat):
            break
    return path + unknown


def _nearest_next(flat: dict[int, tuple[float, float]], first: int) -> list[int]:
    left, path = set(flat) - {first}, [first]
    while left:
        here = flat[path[-1]]
        path.append(min(left, key=lambda at: (math.dist(flat[at], here), at)))
        left.remove(path[-1])
    return path


def _untangle(path: list[int], flat: dict[int, tuple[float, float]]) -> bool:
    """Turn around every stretch that makes the way shorter; tell whether there was one."""
    changed = False
    for first in range(1, len(path) - 1):
        before, start = flat[path[first - 1]], flat[path[first]]
        leg = math.dist(before, start)
        for last in range(first + 1, len(path)):
            end = flat[path[last]]
            after = flat[path[last + 1]] if last + 1 < len(path) else None
            old = leg + (math.dist(end, after) if after else 0)
            new = math.dist(before, end) + (math.dist(start, after) if after else 0)
            if new < old - 1e-12:
                path[first : last + 1] = path[first : last + 1][::-1]
                start, leg, changed = flat[path[first]], math.dist(before, flat[path[first]]), True
    return changed
