"""The shortest way: held against every order where there are few places, and known ways beyond."""

import random
from itertools import pairwise, permutations

import pytest

from program.planning import routes
from program.planning.routes import EXACT_PLACES, path_length, shortest_order, shortest_path


def distances(places: list[tuple[int, int]]) -> list[list[float]]:
    """Return the table of ways along a grid of streets; many are equal."""
    return [[float(abs(a - c) + abs(b - d)) for c, d in places] for a, b in places]


def scattered(count: int, seed: int) -> list[list[float]]:
    draw = random.Random(seed)
    return distances([(draw.randrange(40), draw.randrange(40)) for _ in range(count)])


def best_of_all(table, first=None, last=None) -> float:
    return min(
        path_length(order, table)
        for order in permutations(range(len(table)))
        if first in (None, order[0]) and last in (None, order[-1])
    )


@pytest.mark.parametrize("count", range(1, 7))
@pytest.mark.parametrize(("first", "last"), [(None, None), (0, None), (None, 0), (0, -1)])
def test_few_places_are_put_in_the_best_of_all_orders(count, first, last):
    last = last if last is None else last % count
    if count == 1 or (count == 2 and first is None):
        assert sorted(shortest_path(scattered(count, 1), first, last)) == list(range(count))
        return
    for seed in range(4):
        table = scattered(count, seed)
        order = shortest_path(table, first, last)
        assert sorted(order) == list(range(count))
        assert first in (None, order[0]) and last in (None, order[-1])
        assert path_length(order, table) == best_of_all(table, first, last)


def test_a_path_is_as_long_as_its_steps():
    assert path_length([0], [[0.0]]) == 0
    assert path_length([2, 0, 1], distances([(0, 0), (5, 0), (0, 7)])) == 7 + 5


@pytest.mark.parametrize("count", [EXACT_PLACES, EXACT_PLACES + 1, 30])
def test_places_along_one_street_are_gone_through_from_end_to_end(count):
    along = list(range(0, 3 * count, 3))
    random.Random(7).shuffle(along)
    order = shortest_path(distances([(at, 0) for at in along]))
    way = [along[k] for k in order]
    assert way in (sorted(along), sorted(along, reverse=True))


def test_points_of_the_earth_are_ordered_by_meters():
    # A degree of longitude is shorter than one of latitude here: across first, then up.
    points = [(43.0, -88.0), (43.0, -88.001), (43.001, -88.0), (43.001, -88.001)]
    order = shortest_order(iter(points))
    assert {frozenset(pair) for pair in pairwise(order)} == {
        frozenset((0, 1)), frozenset((2, 3)), frozenset(pair for pair in order[1:3]),
    }  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_many_places_come_close_to_the_exact_way(seed):
    table = scattered(14, seed)
    order = shortest_path(table)
    assert sorted(order) == list(range(14))
    exact = path_length(routes._exact(table, None, None), table)
    assert exact <= path_length(order, table) <= 1.02 * exact
    assert shortest_path(table) == order, "the same places, the same way"


def test_each_step_of_improvement_does_what_it_is_for():
    line = distances([(at, 0) for at in range(8)])
    assert routes._nearest(line, 3) == [3, 2, 1, 0, 4, 5, 6, 7]
    assert routes._turned([0, 1, 5, 4, 3, 2, 6, 7], line) == list(range(8))
    assert routes._turned([3, 2, 1, 0, 4, 5, 6, 7], line) == list(range(8))
    assert routes._moved([0, 4, 1, 2, 3, 5, 6, 7], line) == list(range(8))
    assert routes._moved([3, 4, 5, 0, 1, 2, 6, 7], line) == list(range(8))
    assert routes._starts(line)[:2] == [0, 7] and len(routes._starts(line)) == 6
    long = distances([(at, 0) for at in range(20)])
    mixed = [*range(5), 7, 6, 5, *range(8, 13), 14, 13, *range(15, 20)]
    assert routes._windows(mixed, long) == list(range(20))
    assert routes._gain([0, 2, 1, 3], line, 1, 2) == 2 and routes._gain([0, 1, 2], line, 0, 2) == 0
