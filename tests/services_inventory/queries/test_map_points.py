"""Squares of the map against a count of the record line by line; single lines where few are."""

import random
from collections import Counter
from math import asinh, pi, radians, tan

import pytest
from django.core.cache import cache
from django.http import QueryDict

from services_inventory.filters import choose
from services_inventory.models import Premise, ServiceLine
from services_inventory.operations.evidence import evidence_withdraw
from services_inventory.queries import map_points
from services_inventory.queries.map_points import map_answer
from tests.services_inventory.factories import MORNING, line_of

TOWN = (-100.4, 41.4, -100.2, 41.6)
CODES = ("LEAD", "GRR", "NON_LEAD", "UNKNOWN")
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def town(monkeypatch):
    cache.clear()
    monkeypatch.setattr(map_points, "MOST_SINGLE", 50)
    chance = random.Random(8)
    premises = Premise.objects.bulk_create(
        Premise(longitude=chance.uniform(-100.38, -100.22), latitude=chance.uniform(41.42, 41.58))
        for _ in range(300)
    )
    ServiceLine.objects.bulk_create(
        ServiceLine(location_id=f"L-{n}", premise=one, category=chance.choice(CODES))
        for n, one in enumerate(premises)
    )
    ServiceLine.objects.create(
        location_id="nowhere", premise=Premise.objects.create(), category="LEAD"
    )


def answer(query="", box=TOWN, zoom=12):
    return map_answer(choose(QueryDict(query)), box, zoom)


def by_hand(level, lines):
    """Web-map squares by the textbook's formula (spherical Mercator)."""
    found = Counter()
    for category, lon, lat in lines.values_list(
        "category", "premise__longitude", "premise__latitude"
    ):
        x = (lon + 180) / 360
        y = (1 - asinh(tan(radians(lat))) / pi) / 2
        found[int(x * 2**level), int(y * 2**level), category] += 1
    return found


@pytest.mark.parametrize("query", ["", "category=LEAD", "category=GRR&category=UNKNOWN"])
@pytest.mark.parametrize("zoom", [9, 12])
def test_squares_hold_the_lines_that_the_filters_keep(query, zoom):
    told = answer(query, zoom=zoom)
    lines = ServiceLine.objects.filter(
        choose(QueryDict(query)).condition(), premise__latitude__isnull=False
    )
    assert told["total"] == lines.count() and told["level"] == zoom + 3
    found = Counter()
    for column, row, *counts in told["squares"]:
        for category, number in zip(told["categories"], counts, strict=True):
            if number:
                found[column, row, category] += number
    assert found == by_hand(told["level"], lines)


def test_few_lines_are_told_one_by_one():
    box = (-100.3, 41.5, -100.28, 41.52)
    told = answer(box=box)
    inside = ServiceLine.objects.filter(
        premise__longitude__range=(box[0], box[2]), premise__latitude__range=(box[1], box[3])
    )
    assert 0 < told["total"] <= 50
    assert {one["id"] for one in told["features"]} == set(inside.values_list("pk", flat=True))


def test_the_squares_are_bounded_whatever_is_asked():
    told = answer(zoom=22)
    assert len(told["squares"]) <= 300 and told["level"] < 22


def test_only_the_line_that_changed_is_read_again(monkeypatch):
    line = line_of("LEAD", "LEAD")
    Premise.objects.filter(pk=line.premise_id).update(longitude=-100.3, latitude=41.5)
    before = answer("category=UNKNOWN")["total"]
    reads, read = [], map_points._read
    monkeypatch.setattr(map_points, "_read", lambda lines: reads.append(read(lines)) or reads[-1])
    for row in line.evidence.all():
        evidence_withdraw(evidence=row, reason="Another house", by="clerk", recorded_at=MORNING)
    line.refresh_from_db()
    assert line.category == "UNKNOWN"
    assert answer("category=UNKNOWN")["total"] == before + 1
    assert [list(one.ids) for one in reads] == [[line.pk]]
