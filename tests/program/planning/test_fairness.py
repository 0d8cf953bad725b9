"""Who waits how long: quarters against sums worked out line by line."""

import random

import pytest

from program.planning.fairness import NO_FIGURE, QUARTERS, PlacedLines, quarters, sentence


def test_four_neighborhoods_of_one_size_are_the_four_quarters():
    areas = [
        PlacedLines(name, 10, days, 1)
        for name, days in zip("ABCD", (100, 200, 300, 400), strict=True)
    ]
    found = quarters(areas, {"A": 9.0, "B": 7.0, "C": 5.0, "D": 1.0})
    assert [row.label for row in found] == list(QUARTERS)
    assert [row.mean_days for row in found] == [100, 200, 300, 400]
    assert "those of most need wait 9.9 months less" in sentence(found, "The index")
    turned = quarters(areas, {"A": 9.0, "B": 7.0, "C": 5.0, "D": 1.0}, high_first=False)
    assert [row.mean_days for row in turned] == [400, 300, 200, 100]
    assert "those of most need wait 9.9 months more" in sentence(turned, "Income")


@pytest.mark.parametrize("seed", range(8))
def test_every_line_is_in_one_quarter_and_counts_with_its_own_wait(seed):
    draw = random.Random(seed)
    names = [f"H{k}" for k in range(draw.randint(1, 12))]
    index = {name: draw.choice([None, 1.0, 2.0, 2.0, 3.5, 8.0]) for name in names}
    areas = [
        PlacedLines(draw.choice(names), draw.randint(1, 30), draw.choice([None, 50, 400, 900]), 2)
        for _ in range(30)
    ]
    found = quarters(areas, index)
    listed = [place for row in found for place, _ in row.places]
    assert sorted(listed) == sorted({area.place for area in areas})
    assert sum(row.lines for row in found) == sum(area.lines for area in areas)
    figures = [figure for row in found if row.label != NO_FIGURE for _, figure in row.places]
    assert figures == sorted(figures, reverse=True)
    for row in found:
        places = {place for place, _ in row.places}
        waits = [
            area.days for area in areas for _ in range(area.lines)
            if area.place in places and area.days is not None
        ]  # fmt: skip
        if waits:
            assert row.mean_days == pytest.approx(sum(waits) / len(waits))
            assert row.longest_days == max(waits)
        else:
            assert row.mean_days is None
        assert sum(row.by_year.values()) == len(waits)
    # Equal figures stay together.
    for figure in {1.0, 2.0, 3.5, 8.0}:
        holding = [row.label for row in found if any(one == figure for _, one in row.places)]
        assert len(holding) <= 1


def test_too_few_figures_are_said():
    found = quarters([PlacedLines("A", 3, 10, 1), PlacedLines("B", 2, 10, 1)], {"A": 1.0})
    assert [row.label for row in found][-1] == NO_FIGURE
    assert "too few neighborhoods" in sentence(found, "The index")
    assert quarters([], {}) == []
