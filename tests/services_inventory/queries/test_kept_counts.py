"""Kept counts by evidence and building equal a full count after everything that changes them."""

from collections import Counter
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from services_inventory.domain.regulation import inventory_rules
from services_inventory.models import Batch, PremiseChange, ServiceLine
from services_inventory.operations.buildings import building_put_back, building_record
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.queries import kept_counts
from services_inventory.queries.kept_counts import facts_mark, kept_cells
from services_inventory.queries.validation import pool_by_rule
from tests.services_inventory.factories import MORNING
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db
LATER = MORNING + timedelta(days=1)


def pool() -> Counter:
    found = pool_by_rule(inventory_rules(), date(2028, 1, 1))
    return Counter({row["status"]: row["count"] for row in found["rows"]})


def pool_afresh() -> Counter:
    lines = ServiceLine.objects.filter(category="NON_LEAD")
    return Counter(lines.values_list("validation", flat=True))


def kinds(asked: list | None = None) -> Counter:
    """Return how many lines each kind of building has, from what is kept."""

    def counted(kept):
        if asked is not None:
            asked.append(kept)
        cells = {}
        rows = ServiceLine.objects.filter(kept).values_list("neighborhood_id", "premise__kind")
        for (place, kind), number in Counter(rows).items():
            cells.setdefault(place, {})[kind] = number
        return cells

    whole = Counter()
    for cell in kept_cells("kinds", facts_mark(), counted).values():
        whole.update(cell)
    return whole


def kinds_afresh() -> Counter:
    return Counter(ServiceLine.objects.values_list("premise__kind", flat=True))


def test_nothing_is_counted_while_nothing_changes():
    small_town()
    assert pool() == pool_afresh()
    with CaptureQueriesContext(connection) as asked:
        pool()
    assert not [row for row in asked.captured_queries if "COUNT" in row["sql"]]


def test_seen_at_two_points_leaves_the_pool_and_taken_back_returns():
    small_town()
    line = ServiceLine.objects.filter(category="NON_LEAD", validation="IN").first()
    before, said = pool(), []
    for portion in ("SYSTEM", "CUSTOMER"):
        said.append(
            evidence_record(
                line=line, portion=portion, material="COPPER", basis="EXCAVATION", by="clerk",
                recorded_at=LATER, points_seen=2,
            )
        )  # fmt: skip
        assert pool() == pool_afresh()
    assert pool() != before
    for evidence in said:
        evidence_withdraw(evidence=evidence, by="clerk", recorded_at=LATER, reason="mistyped")
    assert pool() == pool_afresh() == before


def test_a_corrected_building_counts_its_neighborhood_again_only():
    line, asked = small_town()[1], []
    before = kinds(asked)
    change = building_record(
        premise=line.premise, kind="SCHOOL", building_year=None, plumbing="",
        plumbing_year=None, treatment="",
        source="site visit", by="clerk", at=LATER,
    )  # fmt: skip
    assert kinds(asked) == kinds_afresh() == before + Counter(SCHOOL=1) - Counter({"": 1})
    building_put_back(change=change, reason="another house", by="clerk", at=LATER)
    assert kinds(asked) == kinds_afresh() == before
    assert [bool(kept) for kept in asked] == [False, True, True]


def test_a_batch_counts_everything_again():
    small_town()
    asked = []
    kinds(asked)
    Batch.objects.create(kind="RESTATE", state="APPLIED", created_at=LATER, ended_at=LATER)
    kinds(asked)
    assert [bool(kept) for kept in asked] == [False, False]


def test_more_changes_than_are_looked_at_count_everything_again(monkeypatch):
    line, asked = small_town()[0], []
    monkeypatch.setattr(kept_counts, "LATEST", 2)
    kinds(asked)
    for _ in range(2):
        PremiseChange.objects.create(premise=line.premise, recorded_at=LATER, recorded_by="clerk")
    kinds(asked)
    assert [bool(kept) for kept in asked] == [False, False]
