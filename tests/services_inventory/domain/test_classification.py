"""From facts to category: the whole matrix, every combination, and the words shown."""

import tomllib
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.classification import (
    Category,
    LineFacts,
    Policy,
    UnknownLabel,
    all_facts,
    classify,
    decision_table,
    facts_from_key,
    facts_key,
)
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.regulation import inventory_rules

CASES = tomllib.loads((Path(__file__).parent / "cases" / "classification.toml").read_text())["case"]

facts_strategy = st.builds(
    LineFacts,
    st.sampled_from(Material),
    st.sampled_from(Material),
    st.sampled_from(Connector),
    st.sampled_from([None, True, False]),
    st.booleans(),
)
policy_strategy = st.builds(Policy, st.booleans(), st.booleans())


def facts_of(case: dict) -> LineFacts:
    return LineFacts(
        Material(case["system"]),
        Material(case["customer"]),
        Connector(case.get("connector", "UNKNOWN")),
        case.get("system_was_lead"),
        case.get("system_below_lead", False),
    )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["says"])
def test_case(case):
    policy = Policy(case.get("never_had_lead", False), case.get("connectors_make_grr", False))
    assert classify(facts_of(case), policy).category == case["category"]


@given(facts_strategy, policy_strategy)
def test_every_line_has_one_category_by_plain_logic(facts, policy):
    """An independent restatement: four conditions of which exactly one is true."""
    sides = {facts.system, facts.customer}
    lead = bool(sides & {"LEAD", "LEAD_LINED_GALVANIZED"})
    upstream_unsafe = (
        facts.system == "UNKNOWN"
        or facts.system_was_lead is True
        or facts.system_below_lead
        or (
            facts.system != "NONE"
            and facts.system_was_lead is not False
            and not policy.never_had_lead
        )
    )
    connector_unsafe = policy.connectors_make_grr and facts.connector in ("LEAD", "UNKNOWN")
    grr = not lead and (
        (facts.customer == "GALVANIZED" and (upstream_unsafe or connector_unsafe))
        or (facts.system == "GALVANIZED" and (facts.system_below_lead or connector_unsafe))
    )
    unknown = not lead and not grr and ("UNKNOWN" in sides or sides == {"NONE"})
    non_lead = not (lead or grr or unknown)
    truth = {"LEAD": lead, "GRR": grr, "UNKNOWN": unknown, "NON_LEAD": non_lead}
    assert Counter(truth.values()) == {True: 1, False: 3}
    assert truth[classify(facts, policy).category]


@given(facts_strategy, policy_strategy)
def test_every_verdict_explains_itself(facts, policy):
    classification = classify(facts, policy)
    assert classification.reason.endswith(".")
    assert classification.reason[0].isupper()
    assert classification.rule_id in inventory_rules().ids()
    assert classification.citation == inventory_rules().latest(classification.rule_id).citation
    open_to_change = classification.category in (Category.UNKNOWN, Category.GRR)
    assert bool(classification.would_settle) == open_to_change


def test_reason_names_the_side():
    classification = classify(LineFacts(Material.LEAD, Material.COPPER))
    assert classification.reason == "The system side is lead, which makes the whole line lead."
    settle = classify(LineFacts(Material.UNKNOWN, Material.COPPER)).would_settle
    assert settle == ("A record or an inspection that shows the material of the system side.",)


@given(facts_strategy, policy_strategy)
def test_what_would_settle_an_unknown_settles_it(facts, policy):
    """An unknown line leaves UNKNOWN once every portion named has a material."""
    if classify(facts, policy).category != Category.UNKNOWN or not facts.portions:
        return
    known = {Material.UNKNOWN: Material.COPPER}
    settled = LineFacts(
        known.get(facts.system, facts.system),
        known.get(facts.customer, facts.customer),
        facts.connector,
        facts.system_was_lead,
        facts.system_below_lead,
    )
    assert classify(settled, policy).category != Category.UNKNOWN


@given(facts_strategy)
def test_stricter_policy_never_makes_a_line_safer(facts):
    order = [Category.NON_LEAD, Category.UNKNOWN, Category.GRR, Category.LEAD]
    federal = order.index(classify(facts, Policy()).category)
    assert order.index(classify(facts, Policy(connectors_make_grr=True)).category) >= federal
    assert order.index(classify(facts, Policy(never_had_lead=True)).category) <= federal


def test_decision_table_is_complete_and_its_keys_differ():
    rows = list(decision_table())
    keys = [facts_key(facts) for facts, _ in rows]
    assert len(rows) == 11 * 11 * 4 * 3 * 2
    assert len(set(keys)) == len(keys)
    assert [facts_from_key(key) for key in keys] == list(all_facts())


@pytest.mark.parametrize("key", ["", "COPPER", "COPPER|GOLD|UNKNOWN|N|N", "COPPER|LEAD|NONE|X|N"])
def test_unknown_key_is_refused(key):
    with pytest.raises(ValueError, match="not a key of line facts"):
        facts_from_key(key)


def test_labels_of_unknown_count_as_unknown():
    assert {label.category for label in UnknownLabel} == {Category.UNKNOWN}
    assert all(label.label.startswith("unknown - ") for label in UnknownLabel)
    assert UnknownLabel.LIKELY_NON_LEAD.label == "unknown - likely non-lead"
