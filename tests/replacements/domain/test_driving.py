"""The order in which one drives: every place once, none forgotten, no leg that crosses."""

import math

from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.driving import driving_order
from tests.examples import examples

PLACES = st.lists(
    st.none() | st.tuples(st.floats(41, 41.05), st.floats(-100.3, -100.25)), max_size=40
)


@given(PLACES)
@examples(100)
def test_every_place_comes_once_and_those_without_a_position_last(places):
    path = driving_order(places)
    assert sorted(path) == list(range(len(places)))
    known = [places[at] is not None for at in path]
    assert known == sorted(known, reverse=True)


def test_along_a_street_it_is_driven_from_one_end_to_the_other():
    street = [(41.0, -100.3 + step / 1000) for step in (3, 0, 4, 1, 2)]
    assert [street[at][1] for at in driving_order(street)] == sorted(lon for _, lon in street)


def test_a_square_of_blocks_costs_hardly_more_than_the_shortest_way():
    blocks = [(41 + row / 1000, -100 + column / 1000) for row in range(6) for column in range(6)]
    path = driving_order(blocks)
    squeeze = math.cos(math.radians(41.0025))
    flat = [(lat, lon * squeeze) for lat, lon in blocks]
    way = sum(math.dist(flat[a], flat[b]) for a, b in zip(path, path[1:], strict=False))
    # 35 legs are needed; the shortest are those between columns, narrower than between rows.
    assert way < 1.35 * 35 * squeeze / 1000
