"""What is looked at tonight: the newest always, all that is older within a round of nights."""

import pytest

from services_inventory.domain.in_turn import tonight

SIZE = 10


def _places(number: int, night: int | None) -> list[int]:
    return [at for part in tonight(number, SIZE, night) for at in part]


def test_without_a_night_all_are_looked_at():
    assert _places(95, None) == list(range(95))


@pytest.mark.parametrize("number", [0, 1, 9, 10, 11, 20, 95, 100])
def test_a_round_of_nights_meets_each_and_no_night_more_than_two_parts(number):
    nights = [_places(number, night) for night in range(700_000, 700_000 + 9)]
    assert {at for night in nights for at in night} == set(range(number))
    for night in nights:
        assert len(night) == len(set(night)) <= 2 * SIZE
        assert set(range(max(0, number - SIZE), number)) <= set(night)
