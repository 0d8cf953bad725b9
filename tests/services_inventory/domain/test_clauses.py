"""A reason says only what the facts show: every clause, every sentence, every combination.

The phrases below restate in plain logic what each part of a sentence claims; they share nothing
with the clauses but the words.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest

from services_inventory.domain.classification import (
    Category,
    Classification,
    LineFacts,
    Policy,
    classify,
)
from services_inventory.domain.classification.clauses import CLAUSES, Clause
from services_inventory.domain.classification.facts import all_facts
from services_inventory.domain.classification.needs import NEEDS
from services_inventory.domain.materials import Connector, Material

POLICIES = [Policy(*switches) for switches in product((False, True), repeat=2)]
EVERYTHING = [(facts, policy) for policy in POLICIES for facts in all_facts()]
RULES = Path(__file__).parents[3] / "docs" / "rules" / "inventory.md"
LEADS = ("LEAD", "LEAD_LINED_GALVANIZED")
NEITHER = ("COPPER", "PLASTIC", "IRON", "BRASS", "OTHER_NON_LEAD", "NON_LEAD")


def of(name: str, material: str):
    """What 'The system side is lead' claims, of whatever is named."""
    sides = {"The system side is": ("system",), "The customer side is": ("customer",)}
    portions = sides.get(name, ("system", "customer"))
    return lambda f, p: all(getattr(f, portion) == material for portion in portions)


def no_lead(f, p):
    return f.system not in LEADS and f.customer not in LEADS


def connector(code: str, counts: bool):
    return lambda f, p: f.connector == code and p.connectors_make_grr is counts


PHRASES = [
    *(
        (f"{name} {words}", of(name, material))
        for name in ("The system side is", "The customer side is", "Both sides are")
        for words, material in (
            ("lead, which makes the whole line lead.", "LEAD"),
            ("lead-lined galvanized pipe, which counts as lead.", "LEAD_LINED_GALVANIZED"),
            ("galvanized", "GALVANIZED"),
        )
    ),
    (
        " and lies below a system side that was lead before; replacing that lead does not change "
        "this.",
        lambda f, p: f.system_was_lead is True,
    ),
    (" and downstream of pipe that is or was lead.", lambda f, p: f.system_below_lead),
    (" and lies below a system side of unknown material.", lambda f, p: f.system == "UNKNOWN"),
    (
        ", and nothing shows that the system side above it was never lead.",
        lambda f, p: f.system_was_lead is None and not p.never_had_lead and f.system != "NONE",
    ),
    (" and below a lead connector, which counts in this State.", connector("LEAD", True)),
    (
        "; whether it lies below a lead connector is not known, which counts in this State.",
        connector("UNKNOWN", True),
    ),
    (
        "; the system's records show that it never installed lead service lines",
        lambda f, p: p.never_had_lead,
    ),
    (
        "; evidence shows that the system side was never lead",
        lambda f, p: f.system_was_lead is False,
    ),
    ("; there is no system side above it", lambda f, p: f.system == "NONE"),
    (
        "; no service line lies above it",
        lambda f, p: f.customer != "GALVANIZED" and not f.system_below_lead,
    ),
    (
        ", and no portion is lead.",
        lambda f, p: no_lead(f, p) and "UNKNOWN" not in (f.system, f.customer),
    ),
    (
        " It lies below a lead connector, which does not count by the rule in force here.",
        connector("LEAD", False),
    ),
    (
        " Whether it lies below a lead connector is not known, which does not count by the rule in "
        "force here.",
        connector("UNKNOWN", False),
    ),
    (
        "Neither a system side nor a customer side is recorded for this line.",
        lambda f, p: f.system == f.customer == "NONE",
    ),
    *(
        (f"No evidence shows the material of {words}", lambda f, p, s=sides: s(f))
        for words, sides in (
            ("the system side", lambda f: f.system == "UNKNOWN" != f.customer),
            ("the customer side", lambda f: f.customer == "UNKNOWN" != f.system),
            ("either side", lambda f: f.system == f.customer == "UNKNOWN"),
        )
    ),
    (", and no portion is known to be lead.", no_lead),
    (
        "Every portion of the line is shown to be neither lead nor galvanized.",
        lambda f, p: f.system in NEITHER and f.customer in NEITHER,
    ),
    (
        "The line has a system side only, shown to be neither lead nor galvanized.",
        lambda f, p: f.system in NEITHER and f.customer == "NONE",
    ),
    (
        "The line has a customer side only, shown to be neither lead nor galvanized.",
        lambda f, p: f.customer in NEITHER and f.system == "NONE",
    ),
]
SAID = re.compile("|".join(re.escape(words) for words, _ in sorted(PHRASES, reverse=True)))
CLAIMS = dict(PHRASES)


@cache
def clause_table() -> list[tuple[Clause, tuple[str, ...]]]:
    """Return each clause with every sentence that it gives under any policy."""
    said: list[dict[str, None]] = [{} for _ in CLAUSES]
    for policy in POLICIES:
        for facts in all_facts():
            number = next(n for n, one in enumerate(CLAUSES) if one.applies(facts, policy))
            said[number][CLAUSES[number].reason(facts)] = None
    return [(clause, tuple(said[number])) for number, clause in enumerate(CLAUSES)]


@cache
def decided() -> list[Classification]:
    """Return what every combination amounts to, in their order."""
    return [classify(facts, policy) for facts, policy in EVERYTHING]


def reasons() -> Iterator[str]:
    """Yield the reason of every combination."""
    return (found.reason for found in decided())


@cache
def without(need: str) -> set[str]:
    """Return the reasons of the lines that lack a fact."""
    everything = zip(EVERYTHING, reasons(), strict=True)
    return {reason for (f, p), reason in everything if not NEEDS[need](f, p)}


def test_every_sentence_is_made_of_claims_that_are_true_of_its_line():
    met = set()
    for (facts, policy), reason in zip(EVERYTHING, reasons(), strict=True):
        claims = SAID.findall(reason)
        assert "".join(claims) == reason, f"a claim is not accounted for: {reason}"
        for claim in claims:
            assert CLAIMS[claim](facts, policy), (facts, policy, reason)
        met.update(claims)
    assert met == set(CLAIMS), "a phrase that no line has proves nothing"


@pytest.mark.parametrize(
    ("number", "need"),
    [(number, need) for number, clause in enumerate(CLAUSES) for need in clause.needs],
    ids=lambda value: str(value),
)
def test_a_line_without_one_of_a_clauses_facts_never_gets_its_sentence(number, need):
    """Each sentence is one clause's alone, so that the sentence tells which facts hold."""
    sentences = set(clause_table()[number][1])
    assert sentences
    assert without(need) and sentences.isdisjoint(without(need))


def test_no_two_clauses_say_the_same():
    said = [sentence for _, sentences in clause_table() for sentence in sentences]
    assert len(said) == len(set(said))


def test_the_docs_show_the_table_of_clauses_with_their_facts():
    text = RULES.read_text(encoding="utf-8")
    for number, (clause, sentences) in enumerate(clause_table(), start=1):
        facts = "; ".join(clause.needs)
        row = f"| {number} | {clause.category} | {sentences[0]} | {facts} |"
        assert row in text, row


def test_galvanized_without_history_is_not_said_to_be_shown_never_below_lead():
    """As 652 lines of the demo said; of 53 of them a lead connector was on record."""
    for seen in Connector:
        reason = classify(LineFacts(Material.GALVANIZED, Material.COPPER, seen)).reason
        assert "never" not in reason
        assert ("lead connector" in reason) == (seen in ("LEAD", "UNKNOWN"))


def test_a_category_rests_on_connectors_where_counting_them_changes_it():
    known = dict(zip(EVERYTHING, decided(), strict=True))
    for (facts, policy), found in known.items():
        counted = known[facts, replace(policy, connectors_make_grr=True)].category
        assert found.rests_on_connectors == (found.category != counted)
    copper = LineFacts(Material.COPPER, Material.COPPER, Connector.LEAD)
    assert not classify(copper).rests_on_connectors


def test_what_was_set_aside_stands_in_the_reason_and_moves_no_category():
    plain = LineFacts(Material.COPPER, Material.COPPER, Connector.NONE)
    decided = replace(plain, set_aside=("customer side: lead", "connector: lead"))
    found = classify(decided)
    assert found.category == classify(plain).category == Category.NON_LEAD
    assert found.reason == (
        f"{classify(plain).reason} Pipe seen on the customer side as lead was set aside by a "
        "documented decision of two people. Pipe seen on the connector as lead was set aside by a "
        "documented decision of two people."
    )
