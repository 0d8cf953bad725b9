"""Counts of a day equal a recount of the changes, line by line."""

import csv
import io
from collections import Counter
from datetime import date, timedelta

import pytest

from services_inventory.models import CategoryChange, Premise, ServiceLine
from services_inventory.models.lines import CATEGORIES
from services_inventory.operations.evidence import evidence_record
from services_inventory.queries.counts import category_counts, counts_of_day
from services_inventory.queries.downloads_of_day import csv_of_day
from tests.kept import kept
from tests.services_inventory.factories import MORNING
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db
DAYS = [date(2028, 2, 28), date(2028, 3, 1), date(2028, 3, 5), date(2028, 3, 9)]


@pytest.fixture
@kept
def history():
    """Return the town's lines after some news on later days; four have no position."""
    lines = small_town()
    lost = [line.premise_id for line in lines[36:40]]
    Premise.objects.filter(pk__in=lost).update(latitude=None, longitude=None)
    for number, line in enumerate(lines[::5]):
        evidence_record(
            line=line, portion="SYSTEM", material="LEAD", basis="RECORD_DRAWING", by="clerk",
            recorded_at=MORNING + timedelta(days=number),
        )  # fmt: skip
    return lines


def recount(day, known_at=None) -> dict:
    """Return {(neighborhood id or why in none, category): lines}, one line after the other."""
    found = {}
    for line in ServiceLine.objects.all():
        changes = CategoryChange.objects.filter(line=line, effective_on__lte=day)
        if known_at:
            changes = changes.filter(recorded_at__lte=known_at)
        last = changes.order_by("effective_on", "recorded_at", "id").last()
        if last and last.to_category:
            nowhere = 0 if line.premise.latitude is None else None
            key = (line.neighborhood_id or nowhere, last.to_category)
            found[key] = found.get(key, 0) + 1
    return found


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("known", [None, 0, 3])
def test_counts_equal_a_recount(day, known, history):
    known_at = None if known is None else MORNING + timedelta(days=known)
    rows = counts_of_day(day, known_at)
    counted = {
        (row["id"], category): row[category]
        for row in rows[:-1]
        for category in ("LEAD", "GRR", "NON_LEAD", "UNKNOWN")
        if row[category]
    }
    assert counted == recount(day, known_at)
    assert rows[-1]["total"] == sum(counted.values())


def test_no_position_and_outside_every_boundary_are_two_rows(history):
    rows = {row["name"]: row["total"] for row in counts_of_day(date(2028, 12, 31))}
    assert (rows["No position"], rows["Outside every boundary"]) == (4, 8)


def test_today_equals_the_standing(history):
    town = counts_of_day(date(2028, 12, 31))[-1]
    assert {key: town[key] for key in category_counts()} == category_counts()


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("known", [None, 3])
def test_the_lines_of_a_day_add_up_to_its_counts(day, known, history):
    known_at = None if known is None else MORNING + timedelta(days=known)
    text = "".join(csv_of_day(day, known_at)).removeprefix("\ufeff")
    rows = list(csv.DictReader(io.StringIO(text)))
    town = counts_of_day(day, known_at)[-1]
    words = dict(CATEGORIES)
    found = Counter(row["category"] for row in rows)
    assert found == {words[c]: town[c] for c in words if town[c]}
    assert len({row["location id"] for row in rows}) == town["total"]
    assert all(row["reason"] and date.fromisoformat(row["category since"]) <= day for row in rows)


def test_the_lines_of_a_day_hold_no_formula(history):
    Premise.objects.filter(pk=history[0].premise_id).update(address="=1+1")
    assert ",'=1+1," in "".join(csv_of_day(date(2028, 12, 31)))
