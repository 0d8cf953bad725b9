"""Eligible sampling sites of every tier (40 CFR 141.86(a)) out of the record; cases constructed."""

import pytest

from program.queries import sampling_sites
from program.queries.sampling_sites import first_sites, site_rows, sites_by_tier, sites_of
from program.rules import rules_in_force
from services_inventory.models import Premise
from services_inventory.operations.evidence import evidence_withdraw
from tests.program.operations.factories import NOW, TODAY, line, replaced, utility

pytestmark = pytest.mark.django_db


def site(system, customer, connector="", **building):
    of = line(system, customer, connector)
    Premise.objects.filter(pk=of.premise_id).update(**({"kind": "SINGLE_FAMILY"} | building))
    return of


def tiers():
    """Return {tier: location ids}, from the lists that the files are written from."""
    utility()
    found = sites_by_tier(TODAY, rules_in_force())
    listed = {n: [row[1] for row in site_rows(found, n)] for n in range(1, 6)}
    assert {n: found.number(n) for n in range(1, 6)} == {n: len(ids) for n, ids in listed.items()}
    return listed


def test_every_tier_has_its_sites_and_no_site_two_tiers():
    lead = site("LEAD", "COPPER")
    inside = site("COPPER", "COPPER", plumbing="LEAD")
    school = site("LEAD", "LEAD", kind="SCHOOL")
    connector = site("COPPER", "COPPER", "LEAD")
    grr = site("UNKNOWN", "GALVANIZED")
    solder = site("COPPER", "COPPER", plumbing="COPPER_LEAD_SOLDER", plumbing_year=1987)
    later = site("COPPER", "COPPER", plumbing="COPPER_LEAD_SOLDER", plumbing_year=1989)
    common = site("COPPER", "COPPER", plumbing="PLASTIC")
    site("COPPER", "COPPER", plumbing="LEAD", treatment="POINT_OF_USE")
    site("COPPER", "COPPER")
    site("UNKNOWN", "UNKNOWN")
    assert tiers() == {
        1: [lead.location_id, inside.location_id],
        2: [school.location_id],
        3: [connector.location_id, grr.location_id],
        4: [solder.location_id],
        5: [later.location_id, common.location_id],
    }


def test_galvanized_plumbing_is_in_tier_3_where_the_line_was_lead_and_only_there():
    was = site("LEAD", "LEAD", plumbing="GALVANIZED")
    site("COPPER", "COPPER", plumbing="GALVANIZED")
    replaced(was, TODAY)
    assert was.category == "NON_LEAD"
    assert tiers()[3] == [was.location_id]


def test_lead_that_was_taken_back_as_a_mistake_was_never_above():
    of = site("COPPER", "COPPER", "LEAD", plumbing="GALVANIZED")
    evidence_withdraw(
        evidence=of.evidence.get(portion="CONNECTOR"), by="clerk", recorded_at=NOW, reason="slip"
    )
    assert tiers()[3] == []


def test_the_first_sites_come_in_the_order_of_the_record():
    first, second = site("LEAD", "LEAD"), site("LEAD", "LEAD")
    utility()
    found = sites_by_tier(TODAY, rules_in_force())
    rows = sites_of(found, 1)[:1]
    assert [row[0] for row in rows] == [first.location_id] != [second.location_id]
    assert first_sites(found, 1, limit=1) == list(rows)


def test_the_first_sites_are_found_however_far_apart_they_lie(monkeypatch):
    monkeypatch.setattr(sampling_sites, "_FIRST_LOOK", 1)
    listed = [site("LEAD", "LEAD") if n in (0, 7) else site("COPPER", "COPPER") for n in range(9)]
    utility()
    found = sites_by_tier(TODAY, rules_in_force())
    assert [row[0] for row in first_sites(found, 1)] == [listed[n].location_id for n in (0, 7)]
