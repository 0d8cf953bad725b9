"""From the facts about one line to its category, by rule (40 CFR 141.2 and 141.84).

Nobody types a category. The rule is an ordered list of clauses; the first that applies decides.
The input is small and finite, so the whole decision table can be enumerated and joined set-wise.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from services_inventory.domain.categories import Category
from services_inventory.domain.classification.clauses import CLAUSES
from services_inventory.domain.classification.facts import (
    FEDERAL,
    LineFacts,
    Policy,
    UnknownLabel,
    facts_from_key,
    facts_key,
)
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.regulation import inventory_rules

__all__ = [
    "FEDERAL",
    "Category",
    "LineFacts",
    "Policy",
    "UnknownLabel",
    "Verdict",
    "all_facts",
    "classify",
    "decision_table",
    "facts_from_key",
    "facts_key",
]


@dataclass(frozen=True)
class Verdict:
    """The category of a line, why, by which paragraph, and what would change it."""

    category: Category
    reason: str
    citation: str
    would_settle: tuple[str, ...] = ()
    rule_id: str = ""


def classify(facts: LineFacts, policy: Policy = FEDERAL) -> Verdict:
    """The category of one line with its reason, citation and what would settle it.

    Examples
    --------
    >>> classify(LineFacts(Material.COPPER, Material.GALVANIZED)).category
    <Category.GRR: 'GRR'>
    """
    clause = next(clause for clause in CLAUSES if clause.applies(facts, policy))
    return Verdict(
        category=clause.category,
        reason=clause.reason(facts),
        citation=inventory_rules().latest(clause.rule_id).citation,
        would_settle=clause.would_settle(facts),
        rule_id=clause.rule_id,
    )


def all_facts() -> Iterator[LineFacts]:
    """Every combination of facts, in a fixed order."""
    for combination in product(Material, Material, Connector, (None, True, False), (False, True)):
        yield LineFacts(*combination)


def decision_table(policy: Policy = FEDERAL) -> Iterator[tuple[LineFacts, Verdict]]:
    """Every combination of facts with its verdict."""
    for facts in all_facts():
        yield facts, classify(facts, policy)
