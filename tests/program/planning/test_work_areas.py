"""Work areas: every line once, streets kept whole, changes by hand (constructed towns)."""

import random
from collections import Counter

import pytest

from program.planning.geometry import outline
from program.planning.work_areas import (
    AreaSize,
    BadArea,
    PoolLine,
    group,
    lock,
    merge,
    split,
)

SIZE = AreaSize(15, 30, 60)


def _line(number, street="OAK ST", house=100, hood="EAST", lat=43.0, lon=-88.0):
    return PoolLine(f"L{number:05d}", street, house, hood, lat, lon)


def _street(start, count, street, hood="EAST", lat=43.0):
    """Houses ten meters apart along one street running east."""
    return [
        _line(start + k, street, 100 + 2 * k, hood, lat, -88.0 + k * 10 / 81_000)
        for k in range(count)
    ]


@pytest.fixture(scope="module")
def town():
    draw = random.Random(7)
    lines = []
    for row in range(20):
        hood = "NORTH" if row < 10 else "SOUTH"
        lines += _street(len(lines), draw.randint(20, 50), f"ROW {row}", hood, 43 + row / 1000)
    return lines


def test_every_line_is_in_one_area_of_its_neighborhood(town):
    areas = group(town, SIZE).areas
    counted = Counter(line for area in areas for line in area.line_ids)
    assert counted == Counter(line.id for line in town)
    hood = {line.id: line.neighborhood for line in town}
    assert all({hood[i] for i in area.line_ids} == {area.neighborhood} for area in areas)
    assert all(15 <= area.jobs <= 60 for area in areas)


def test_order_of_the_lines_does_not_matter(town):
    shuffled = list(town)
    random.Random(1).shuffle(shuffled)
    assert group(shuffled, SIZE) == group(town, SIZE)


def test_two_streets_of_target_size_become_one_area_each():
    lines = _street(0, 30, "ELM ST") + _street(30, 30, "OAK ST", lat=43.002)
    names = [area.name for area in group(lines, SIZE).areas]
    assert sorted(names) == ["ELM ST 100-158", "OAK ST 100-158"]


def test_one_house_of_a_street_is_no_range():
    lines = [*_street(0, 20, "OAK ST"), _line(20, "ELM ST", 7)]
    (area,) = group(lines, SIZE).areas
    assert area.name == "OAK ST 100-138, ELM ST 7"


def test_small_neighborhood_is_a_named_remainder():
    grouping = group(_street(0, 9, "ELM ST", "ISLAND"), SIZE)
    assert [area.small for area in grouping.areas] == [True]
    assert grouping.sentences() == ["ELM ST 100-116 in ISLAND is a small remainder of 9 jobs."]


def test_many_remainders_are_told_in_one_sentence():
    towns = ("EAST", "ISLAND", "WEST")
    lines = [
        line for at, town in enumerate(towns) for line in _street(20 * at, 7 + at, "ELM ST", town)
    ]
    told = group(lines, SIZE).sentences()
    assert told == [
        "3 areas are small remainders of their neighborhoods: "
        "EAST 7 jobs; ISLAND 8 jobs; WEST 9 jobs."
    ]


def test_lines_that_cannot_be_placed_are_listed_not_lost():
    lines = _street(0, 20, "ELM ST")
    lines += [_line(50, lat=None), _line(51, hood=None), _line(52, lon=None, hood=None)]
    grouping = group(lines, SIZE)
    assert grouping.without_coordinates == ("L00050", "L00052")
    assert grouping.without_neighborhood == ("L00051",)
    assert sum(area.jobs for area in grouping.areas) == 20
    assert sorted(grouping.unplaced) == ["L00050", "L00051", "L00052"]


def test_one_long_block_is_cut_in_the_order_of_its_houses():
    """A hundred flats at one house number range: parts of at most 60, none lost."""
    lines = [_line(k, "TOWER RD", 100) for k in range(100)]
    areas = group(lines, SIZE).areas
    assert sorted(area.jobs for area in areas) == [33, 33, 34]


def test_locked_area_stays_when_the_pool_is_grouped_again(town):
    before = group(town, SIZE)
    kept = lock(before.areas[3])
    gone = kept.line_ids[0]
    after = group([line for line in town if line.id != gone], SIZE, keep=[kept])
    again = next(area for area in after.areas if area.id == kept.id)
    assert again.locked
    assert again.line_ids == kept.line_ids[1:]
    counted = Counter(line for area in after.areas for line in area.line_ids)
    assert set(counted.values()) == {1}
    assert len(counted) == len(town) - 1
    assert len({area.id for area in after.areas}) == len(after.areas)


def test_split_and_merge_undo_each_other(town):
    area = group(town, SIZE).areas[0]
    first, second = split(area, town)
    assert first.jobs + second.jobs == area.jobs
    assert abs(first.jobs - second.jobs) <= area.jobs // 3
    assert merge(first, second, town).line_ids == area.line_ids


def test_split_by_hand_takes_the_lines_named(town):
    area = group(town, SIZE).areas[0]
    chosen = area.line_ids[:4]
    first, second = split(area, town, chosen)
    assert set(first.line_ids) == set(chosen)
    assert set(second.line_ids) == set(area.line_ids[4:])


def test_changes_that_can_not_be_made_say_why(town):
    areas = group(town, SIZE).areas
    north = next(area for area in areas if area.neighborhood == "NORTH")
    south = next(area for area in areas if area.neighborhood == "SOUTH")
    with pytest.raises(BadArea, match="never crosses a neighborhood"):
        merge(north, south, town)
    with pytest.raises(BadArea, match="is locked: unlock it"):
        split(lock(north), town)
    with pytest.raises(BadArea, match="not none and not all"):
        split(north, town, north.line_ids)
    with pytest.raises(BadArea, match="must rise from least to target to most"):
        AreaSize(30, 20, 60)
    with pytest.raises(BadArea, match="at least 59"):
        AreaSize(30, 40, 50)
    with pytest.raises(BadArea, match="same id"):
        group([_line(1), _line(1)])


def test_outline_holds_every_house_of_the_area(town):
    import shapely

    area = group(town, SIZE).areas[0]
    members = [line for line in town if line.id in area.line_ids]
    ring = shapely.Polygon(outline((line.lat, line.lon) for line in members))
    assert all(ring.covers(shapely.Point(line.lat, line.lon)) for line in members)
