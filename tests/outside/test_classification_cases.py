"""Published cases of classification and of the validation pool, from evidence to category.

K1 to K8: Kansas Rural Water Association, table of galvanized cases. W6 to W9: EPA, Technical Fact
Sheet: Inventory Validation, October 2024. The records that stand for each case are constructed.
"""

from datetime import date, datetime

import pytest

from services_inventory.domain.classification import Category, LineFacts, Policy, classify
from services_inventory.domain.evidence import (
    Basis,
    Era,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    ReviewKind,
    weigh,
)
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.validation import membership

POLICY = EvidencePolicy.from_rules(date(2028, 1, 1))
NEVER_HAD_LEAD = EvidencePolicy.from_rules(date(2028, 1, 1), never_had_lead=True)
S, C, CONNECTOR = Portion


def record(portion, material, basis=Basis.RECORD_TAP_CARD, **more) -> EvidenceRecord:
    row = {"id": f"{portion} {material} {basis} {more}", "recorded_at": datetime(2028, 1, 1)}
    return EvidenceRecord(
        portion=portion, material=Material(material), basis=basis, **{**row, **more}
    )


def original(portion, material) -> list[EvidenceRecord]:
    """The pipe in the ground and a record that there was none before it."""
    before = record(portion, "NONE", era=Era.BEFORE, every_earlier_pipe=True)
    return [record(portion, material), before]


GOOSENECK = record(CONNECTOR, "LEAD", Basis.EXCAVATION, length_ft=1.5)
CUSTOMER_GALVANIZED = record(C, "GALVANIZED", Basis.VISUAL_INSPECTION, points_seen=1)
PLASTIC_2018 = record(S, "PLASTIC", Basis.REPLACEMENT, observed_on=date(2018, 5, 1))

CASES = {
    "K1 galvanized below copper with a lead gooseneck": (
        [*original(S, "COPPER"), GOOSENECK, CUSTOMER_GALVANIZED],
        POLICY,
        "NON_LEAD",
    ),
    "K1 galvanized below galvanized with a lead gooseneck": (
        [*original(S, "GALVANIZED"), GOOSENECK, CUSTOMER_GALVANIZED],
        POLICY,
        "NON_LEAD",
    ),
    "K2 galvanized below lead": (
        [record(S, "LEAD"), CUSTOMER_GALVANIZED],
        POLICY,
        "LEAD",
    ),
    "K3 galvanized below lead that was replaced": (
        [record(S, "LEAD", installed_year=1925), PLASTIC_2018, CUSTOMER_GALVANIZED],
        POLICY,
        "GRR",
    ),
    "K4 galvanized system side at a lead gooseneck": (
        [record(S, "GALVANIZED"), GOOSENECK, record(C, "COPPER")],
        POLICY,
        "NON_LEAD",
    ),
    "K5 galvanized below plastic, earlier material not known": (
        [PLASTIC_2018, CUSTOMER_GALVANIZED],
        POLICY,
        "GRR",
    ),
    "K7 no record of the original, but the system never installed lead": (
        [PLASTIC_2018, CUSTOMER_GALVANIZED],
        NEVER_HAD_LEAD,
        "NON_LEAD",
    ),
    "K8 only statements of senior employees": (
        [
            PLASTIC_2018,
            CUSTOMER_GALVANIZED,
            record(S, "NON_LEAD", Basis.AFFIDAVIT, era=Era.BEFORE, every_earlier_pipe=True),
        ],
        POLICY,
        "GRR",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_kansas_case(name):
    records, policy, category = CASES[name]
    assert classify(weigh(records, policy).facts).category == category


def test_k2_the_galvanized_side_alone_would_require_replacement():
    after = LineFacts(Material.COPPER, Material.GALVANIZED, system_was_lead=True)
    assert classify(after).category == Category.GRR


def test_k6_connector_of_four_feet_is_flagged():
    long = record(CONNECTOR, "LEAD", Basis.EXCAVATION, length_ft=4)
    weighed = weigh([*original(S, "COPPER"), CUSTOMER_GALVANIZED, long], POLICY)
    assert [review.kind for review in weighed.reviews] == [ReviewKind.LONG_CONNECTOR]
    assert weighed.facts.connector == Connector.LEAD


def test_k8_is_flagged_for_the_state_and_its_approval_settles_it():
    records = CASES["K8 only statements of senior employees"][0]
    weighed = weigh(records, POLICY)
    assert [review.kind for review in weighed.reviews] == [ReviewKind.STATEMENT_ONLY]
    approved = EvidencePolicy(POLICY.lead_ban_date, 2, frozenset({Basis.AFFIDAVIT}))
    before = record(
        S,
        "NON_LEAD",
        Basis.AFFIDAVIT,
        era=Era.BEFORE,
        every_earlier_pipe=True,
        observed_on=date(2027, 1, 1),
    )
    agreed = weigh([PLASTIC_2018, CUSTOMER_GALVANIZED, before], approved)
    assert classify(agreed.facts).category == Category.NON_LEAD


def test_a_state_that_counts_connectors_turns_k1():
    """Constructed; Michigan is described as counting connectors."""
    facts = weigh([*original(S, "COPPER"), GOOSENECK, CUSTOMER_GALVANIZED], POLICY).facts
    assert classify(facts, Policy(connectors_make_grr=True)).category == Category.GRR


def in_pool(*records) -> tuple[bool, str]:
    weighed = weigh(records, POLICY)
    found = membership(classify(weighed.facts).category, weighed.portions)
    return found.in_pool, found.rule_id


# One owner for the whole line: no customer side, so that the two points are on one portion.
WHOLE = record(C, "NONE")
PIT = record(S, "COPPER", Basis.VISUAL_INSPECTION, points_seen=1, place="meter pit")
HOUSE = record(S, "COPPER", Basis.VISUAL_INSPECTION, points_seen=1, place="inside the house")
HOUSE_CUSTOMER = record(C, "COPPER", Basis.VISUAL_INSPECTION, points_seen=1)


def test_w6_copper_seen_at_the_meter_pit_only_is_in():
    assert in_pool(PIT, WHOLE) == (True, "POOL_IN_OTHER_RECORDS")
    assert in_pool(PIT, record(C, "COPPER")) == (True, "POOL_IN_OTHER_RECORDS")


def test_w7_a_second_point_inside_the_house_takes_it_out():
    assert in_pool(PIT, HOUSE, WHOLE) == (False, "POOL_OUT_TWO_POINTS")
    assert in_pool(PIT, HOUSE_CUSTOMER) == (False, "POOL_OUT_TWO_POINTS")


def test_w7_the_same_place_twice_is_one_point():
    """Constructed."""
    again = record(
        S, "COPPER", Basis.VISUAL_INSPECTION, points_seen=1, place="meter pit", id="again"
    )
    assert in_pool(PIT, again, WHOLE) == (True, "POOL_IN_OTHER_RECORDS")


def test_w8_other_records_only_is_in():
    assert in_pool(record(S, "COPPER"), record(C, "COPPER")) == (True, "POOL_IN_OTHER_RECORDS")


@pytest.mark.parametrize(
    ("laid", "expected"),
    [
        (date(1990, 5, 1), (False, "POOL_OUT_BAN")),
        (date(1988, 6, 19), (False, "POOL_OUT_BAN")),
        (date(1988, 6, 18), (True, "POOL_IN_OTHER_RECORDS")),
    ],
)
def test_w9_installed_after_the_ban_by_record_is_out(laid, expected):
    sides = [record(portion, "COPPER", installed_on=laid) for portion in (S, C)]
    assert in_pool(*sides) == expected
