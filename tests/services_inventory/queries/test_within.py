"""Places inside a drawn shape, against shapely's own answer over random shapes and places."""

import random

import pytest
import shapely
from django.http import QueryDict

from services_inventory.filters import choose
from services_inventory.models import Premise, ServiceLine
from services_inventory.queries.within import BadShape, inside, shape_given, shape_of
from tests.services_inventory.factories import bare_line

WEST, SOUTH = -100.3, 41.5


def text_of(corners) -> str:
    return ";".join(f"{lon:.6f},{lat:.6f}" for lon, lat in corners)


@pytest.fixture
def places(db):
    chance = random.Random(4)
    Premise.objects.bulk_create(
        Premise(
            longitude=WEST + chance.random() / 50,
            latitude=SOUTH + chance.random() / 50,
            address=f"{n} Mill St",
        )
        for n in range(400)
    )
    Premise.objects.create(address="no position")
    return {
        pk: shapely.Point(lon, lat)
        for pk, lon, lat in Premise.objects.exclude(latitude=None).values_list(
            "pk", "longitude", "latitude"
        )
    }


@pytest.mark.parametrize("corners", [3, 4, 7, 15, 60])
def test_the_database_finds_what_shapely_finds(places, corners):
    """Random corners cross themselves nearly always, so the shapes have holes and points."""
    chance = random.Random(corners)
    for _ in range(4):
        ring = [
            (round(WEST + chance.random() / 50, 6), round(SOUTH + chance.random() / 50, 6))
            for _ in range(corners)
        ]
        shape = shape_of(text_of(ring))
        found = set(Premise.objects.filter(inside(shape, "")).values_list("pk", flat=True))
        assert found == {pk for pk, place in places.items() if shape.covers(place)}
        assert found


def test_a_corner_and_an_edge_are_inside(db):
    edge = Premise.objects.create(longitude=-100.25, latitude=41.5)
    corner = Premise.objects.create(longitude=-100.3, latitude=41.5)
    Premise.objects.create(longitude=-100.25, latitude=41.4999)
    shape = shape_of("-100.3,41.5;-100.2,41.5;-100.25,41.6")
    assert set(Premise.objects.filter(inside(shape, ""))) == {edge, corner}


def test_a_box_of_the_map_is_a_shape(places):
    shape = shape_given({"box": "-100.295,41.505,-100.285,41.515"})
    found = set(Premise.objects.filter(inside(shape, "")).values_list("pk", flat=True))
    assert found == {pk for pk, place in places.items() if shape.covers(place)}
    assert shape_given({}) is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,1;2,2", "3 to 60 corners"),
        (";".join(["1,1"] * 61), "3 to 60 corners"),
        ("1,1;2,2;3,3", "in one line"),
        ("1,1;2,2;x", "in degrees"),
        ("1,1;2,2;3,99", "in degrees"),
        ("nan,1;2,2;3,3", "in degrees"),
    ],
)
def test_what_is_no_shape_says_why(text, words):
    with pytest.raises(BadShape, match=words):
        shape_of(text)


@pytest.mark.parametrize("box", ["1,2,3", "nan,1,2,3", "inf,1,2,3", "here"])
def test_what_is_no_box_says_so(box):
    with pytest.raises(BadShape, match="Give box"):
        shape_given({"box": box})


def test_the_list_is_narrowed_by_a_shape(db):
    near, far = bare_line("1 Mill St"), bare_line("2 Mill St")
    for line, lon in ((near, -100.25), (far, -100.1)):
        Premise.objects.filter(pk=line.premise_id).update(longitude=lon, latitude=41.55)
    chosen = choose(QueryDict("within=-100.3,41.5;-100.2,41.5;-100.25,41.6"))
    for condition in (chosen.condition(), chosen.few()):
        assert list(ServiceLine.objects.filter(condition)) == [near]
    assert chosen.words() == "in the shape drawn on the map"
