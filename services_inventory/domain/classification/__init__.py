"""From the facts about one line to its category, by rule (40 CFR 141.2 and 141.84).

Nobody types a category. The rule is an ordered list of clauses; the first that applies decides.
The input is small and finite, so the whole decision table can be enumerated and joined set-wise.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from services_inventory.domain.categories import Category
from services_inventory.domain.classification.clauses import CLAUSES, Clause
from services_inventory.domain.classification.facts import (
    FEDERAL,
    LineFacts,
    Policy,
    UnknownLabel,
    all_facts,
    facts_from_key,
    facts_key,
)
from services_inventory.domain.regulation import inventory_rules


@dataclass(frozen=True)
class Classification:
    """The category of a line, why, by which paragraph, and what would change it.

    `rests_on_connectors`: where connectors count, the line would have another category.
    """

    category: Category
    reason: str
    citation: str
    would_settle: tuple[str, ...] = ()
    rule_id: str = ""
    rests_on_connectors: bool = False


@lru_cache(maxsize=10_000)  # more kinds of facts than a utility has
def classify(facts: LineFacts, policy: Policy = FEDERAL) -> Classification:
    """The category of one line with its reason, citation and what would settle it.

    Examples
    --------
    >>> classify(LineFacts(Material.COPPER, Material.GALVANIZED)).category
    <Category.GRR: 'GRR'>
    """
    clause = _deciding(facts, policy)
    return Classification(
        category=clause.category,
        reason=" ".join((clause.reason(facts), *map(_set_aside, facts.set_aside))),
        citation=inventory_rules().latest(clause.rule_id).citation,
        would_settle=clause.would_settle(facts),
        rule_id=clause.rule_id,
        rests_on_connectors=not policy.connectors_make_grr
        and _deciding(facts, replace(policy, connectors_make_grr=True)).category != clause.category,
    )


def _deciding(facts: LineFacts, policy: Policy) -> Clause:
    return next(clause for clause in CLAUSES if clause.applies(facts, policy))


def _set_aside(said: str) -> str:
    """The sentence on what was seen of a portion, such as "customer side: lead"."""
    portion, seen = said.split(": ")
    return (
        f"Pipe seen on the {portion} as {seen} was set aside by a documented decision of two "
        "people."
    )


def decision_table(policy: Policy = FEDERAL) -> Iterator[tuple[LineFacts, Classification]]:
    """Every combination of facts with its classification."""
    for facts in all_facts():
        yield facts, classify(facts, policy)
