"""The counts over time are those that each day is counted to have by itself, kept or not."""

from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from services_inventory.models import CategoryChange
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.queries import over_time
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.over_time import counts_over_time
from tests.services_inventory.factories import MORNING
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db
TODAY = MORNING.date() + timedelta(days=60)


@pytest.fixture
def lines():
    return small_town()


def dug_up(line, day, material="LEAD"):
    return evidence_record(
        line=line, portion="SYSTEM", material=material, basis="EXCAVATION", by="clerk",
        recorded_at=MORNING + timedelta(days=day),
    )  # fmt: skip


def each_day_counted() -> list:
    found = counts_over_time(TODAY)
    for day, counts in found:
        full = category_counts_on(day)
        assert {**counts, "total": sum(counts.values())} == full, day
    return found


def test_every_day_is_counted_as_by_itself_while_lines_change(lines):
    assert each_day_counted()[-1][0] == TODAY
    for number, line in enumerate(lines[:6]):
        found = dug_up(line, 3 * number, "COPPER" if number % 2 else "LEAD")
        each_day_counted()
    evidence_withdraw(evidence=found, by="clerk", reason="wrong pit",
                      recorded_at=MORNING + timedelta(days=30))  # fmt: skip
    kept = each_day_counted()
    cache.clear()
    assert each_day_counted() == kept


def test_days_before_most_lines_came_are_counted_too(lines):
    early = MORNING.date() - timedelta(days=9)
    some = [line.pk for line in lines[:5]]
    CategoryChange.objects.filter(line__in=some).update(effective_on=early)
    cache.clear()
    assert each_day_counted()[0][0] == early


def test_a_line_of_a_hundred_years_ago_does_not_stretch_the_picture(lines, monkeypatch):
    first = counts_over_time(TODAY)[0][0]
    old = CategoryChange.objects.filter(line=lines[0])
    old.update(effective_on=date(1920, 1, 1))
    cache.clear()
    assert counts_over_time(TODAY)[0][0] == date(1920, 1, 1)
    monkeypatch.setattr(over_time, "BEGUN", 10)
    assert each_day_counted()[0][0] == first


def test_a_change_is_added_without_walking_all(lines):
    for number, line in enumerate(lines[:6]):
        dug_up(line, number + 1)
    counts_over_time(TODAY)
    dug_up(lines[9], 20)
    with CaptureQueriesContext(connection) as asked:
        counts_over_time(TODAY)
    sql = " ".join(row["sql"] for row in asked.captured_queries)
    assert f" IN ({lines[9].pk})" in sql and "GROUP BY" not in sql.split("categorychange")[1]
    with CaptureQueriesContext(connection) as asked:
        counts_over_time(TODAY)
    assert not [row for row in asked.captured_queries if "effective_on" in row["sql"]]


def test_without_lines_there_is_nothing(db):
    assert counts_over_time(TODAY) == []
