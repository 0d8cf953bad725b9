"""The kept counts equal a full count after everything that moves a line."""

from datetime import timedelta

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from services_inventory.models import Batch, Premise, ServiceLine
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.queries import counts_now
from services_inventory.queries.counts import category_counts, neighborhood_counts
from services_inventory.queries.counts_now import category_counts_now, neighborhood_counts_now
from tests.services_inventory.factories import MORNING, line_of, neighborhood
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db


@pytest.fixture
def lines():
    """Return the town's lines, counted once already."""
    found = small_town()
    equal_to_a_full_count()
    return found


def equal_to_a_full_count():
    assert neighborhood_counts_now() == neighborhood_counts()
    assert category_counts_now() == category_counts()


def dug_up(line, day=1):
    return evidence_record(
        line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", by="clerk",
        recorded_at=MORNING + timedelta(days=day),
    )  # fmt: skip


def full_counts(monkeypatch) -> list:
    """Return a list that grows with every count of everything."""
    asked, plain = [], counts_now.counted

    def noted(kept):
        if not kept:
            asked.append(kept)
        return plain(kept)

    monkeypatch.setattr(counts_now, "counted", noted)
    return asked


def test_nothing_is_counted_while_nothing_changes(lines):
    with CaptureQueriesContext(connection) as asked:
        category_counts_now()
    assert not [row for row in asked.captured_queries if "COUNT" in row["sql"]]


def test_a_line_without_a_position_stays_in_its_own_row(lines):
    Premise.objects.filter(pk=lines[38].premise_id).update(latitude=None, longitude=None)
    cache.clear()
    equal_to_a_full_count()
    dug_up(lines[38])
    equal_to_a_full_count()
    assert [row["LEAD"] for row in neighborhood_counts_now() if row["name"] == "No position"] == [1]


@pytest.mark.parametrize("at", [2, 38])  # in a neighborhood, and in none
def test_evidence_counts_one_neighborhood_again(at, lines, monkeypatch):
    asked, before = full_counts(monkeypatch), category_counts_now()
    evidence = dug_up(lines[at])
    equal_to_a_full_count()
    assert category_counts_now()["LEAD"] == before["LEAD"] + 1
    evidence_withdraw(
        evidence=evidence, by="clerk", recorded_at=MORNING + timedelta(days=2), reason="mistyped"
    )
    equal_to_a_full_count()
    assert category_counts_now() == before
    assert asked == []


def test_a_new_line_counts(lines):
    line_of("LEAD", "LEAD", in_neighborhood=neighborhood("Harbor"))
    equal_to_a_full_count()


def test_a_batch_that_moves_lines_counts_everything_again(lines, monkeypatch):
    asked = full_counts(monkeypatch)
    batch = Batch.objects.create(kind="BOUNDARIES", state="APPLYING", created_at=MORNING)
    equal_to_a_full_count()
    there = lines[0].neighborhood
    Premise.objects.filter(neighborhood=None).update(neighborhood=there)
    ServiceLine.objects.filter(neighborhood=None).update(neighborhood=there)
    batch.state, batch.ended_at = "APPLIED", MORNING + timedelta(hours=1)
    batch.save()
    equal_to_a_full_count()
    assert len(asked) == 2


def test_a_transaction_that_ends_late_is_noticed(lines, monkeypatch):
    """A change with a lower id may come in after one with a higher id was counted."""
    early, late = lines[2], lines[6]
    dug_up(early)
    change = early.category_changes.order_by("-id")[0]
    row, before = vars(change).copy(), early.category_changes.exclude(pk=change.pk).get()
    dug_up(late)
    # As another session sees it while the earlier transaction is still open:
    change.delete()
    ServiceLine.objects.filter(pk=early.pk).update(category=before.to_category)
    equal_to_a_full_count()
    # It ends:
    row.pop("_state")
    type(change).objects.create(**row)
    ServiceLine.objects.filter(pk=early.pk).update(category="LEAD")
    equal_to_a_full_count()
