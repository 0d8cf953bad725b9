"""The clauses of 40 CFR 141.2 in order: the first that applies decides."""

from collections.abc import Callable
from dataclasses import dataclass

from services_inventory.domain.categories import Category
from services_inventory.domain.classification.facts import LineFacts, Policy
from services_inventory.domain.materials import Connector, Material


@dataclass(frozen=True)
class Clause:
    """One clause of the rule: where it applies it gives the category, else the next is asked."""

    category: Category
    rule_id: str
    applies: Callable[[LineFacts, Policy], bool]
    reason: Callable[[LineFacts], str]
    would_settle: Callable[[LineFacts], tuple[str, ...]] = lambda facts: ()


def _named(facts: LineFacts, *materials: Material) -> str:
    """'The system side is' or 'Both sides are', for the portions of these materials."""
    names = [name for name, material in facts.portions if material in materials]
    return "Both sides are" if len(names) == 2 else f"The {names[0]} is"


def _galvanized_below(facts: LineFacts) -> bool:
    return facts.customer == Material.GALVANIZED


def _any_galvanized(facts: LineFacts) -> bool:
    return Material.GALVANIZED in (facts.system, facts.customer)


def _history_open(facts: LineFacts, policy: Policy) -> bool:
    """A galvanized customer side below a system side of which an earlier pipe may have been lead.

    With no system side nothing lies upstream, so there is nothing to demonstrate.
    """
    return (
        _galvanized_below(facts)
        and facts.system != Material.NONE
        and facts.system_was_lead is None
        and not policy.never_had_lead
    )


def _connector_above(facts: LineFacts, policy: Policy) -> bool:
    return (
        policy.connectors_make_grr
        and _any_galvanized(facts)
        and facts.connector in (Connector.LEAD, Connector.UNKNOWN)
    )


def _identify(facts: LineFacts) -> tuple[str, ...]:
    return tuple(
        f"A record or an inspection that shows the material of the {name}."
        for name, material in facts.portions
        if material == Material.UNKNOWN
    )


_REPLACE_GALVANIZED = ("Replacement of the galvanized pipe.",)
_SHOW_HISTORY = (
    "Records of every pipe of the system side since the galvanized pipe was laid.",
    "Records that the system never installed lead service lines.",
)


def _unknown_reason(facts: LineFacts) -> str:
    names = [name for name, material in facts.portions if material == Material.UNKNOWN]
    subject = "either side" if len(names) == 2 else f"the {names[0]}"
    return f"No evidence shows the material of {subject}, and no portion is known to be lead."


def _connector_reason(facts: LineFacts) -> str:
    what = "lead" if facts.connector == Connector.LEAD else "of unknown material"
    return (
        f"{_named(facts, Material.GALVANIZED)} galvanized and below a connector that is {what}, "
        "which counts in this State."
    )


CLAUSES = (
    Clause(
        Category.LEAD,
        "LEAD_ANY_PORTION",
        lambda facts, policy: Material.LEAD in (facts.system, facts.customer),
        lambda facts: f"{_named(facts, Material.LEAD)} lead, which makes the whole line lead.",
    ),
    Clause(
        Category.LEAD,
        "LEAD_LINED_IS_LEAD",
        lambda facts, policy: Material.LEAD_LINED_GALVANIZED in (facts.system, facts.customer),
        lambda facts: (
            f"{_named(facts, Material.LEAD_LINED_GALVANIZED)} lead-lined galvanized pipe, "
            "which counts as lead."
        ),
    ),
    Clause(
        Category.GRR,
        "GRR_EVER_DOWNSTREAM_OF_LEAD",
        lambda facts, policy: _galvanized_below(facts) and facts.system_was_lead is True,
        lambda facts: (
            "The customer side is galvanized and lies below a system side that was lead before; "
            "replacing that lead does not change this."
        ),
        lambda facts: _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_EVER_DOWNSTREAM_OF_LEAD",
        lambda facts, policy: _any_galvanized(facts) and facts.system_below_lead,
        lambda facts: (
            f"{_named(facts, Material.GALVANIZED)} galvanized and downstream of pipe that is or "
            "was lead."
        ),
        lambda facts: _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_DOWNSTREAM_OF_UNKNOWN",
        lambda facts, policy: _galvanized_below(facts) and facts.system == Material.UNKNOWN,
        lambda facts: (
            "The customer side is galvanized and lies below a system side of unknown material."
        ),
        lambda facts: _identify(facts) + _SHOW_HISTORY[:1] + _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_NOT_DEMONSTRATED",
        _history_open,
        lambda facts: (
            "The customer side is galvanized, and nothing shows that the system side above it "
            "was never lead."
        ),
        lambda facts: _SHOW_HISTORY + _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "CONNECTORS_MAKE_GRR",
        _connector_above,
        _connector_reason,
        lambda facts: (
            _REPLACE_GALVANIZED
            if facts.connector == Connector.LEAD
            else ("A record or an inspection of the connector.", *_REPLACE_GALVANIZED)
        ),
    ),
    Clause(
        Category.UNKNOWN,
        "BOTH_PORTIONS_RECORDED",
        lambda facts, policy: not facts.portions,
        lambda facts: "Neither a system side nor a customer side is recorded for this line.",
        lambda facts: ("A record or an inspection that shows which portions the line has.",),
    ),
    Clause(
        Category.UNKNOWN,
        "UNKNOWN_NOT_SHOWN",
        lambda facts, policy: Material.UNKNOWN in (facts.system, facts.customer),
        _unknown_reason,
        _identify,
    ),
    Clause(
        Category.NON_LEAD,
        "NEVER_HAD_LEAD_RECORDS",
        lambda facts, policy: _any_galvanized(facts),
        lambda facts: (
            f"{_named(facts, Material.GALVANIZED)} galvanized and shown never to have been "
            "downstream of lead; no portion is lead."
        ),
    ),
    Clause(
        Category.NON_LEAD,
        "NON_LEAD_SHOWN",
        lambda facts, policy: True,
        lambda facts: (
            "Every portion of the line is shown to be neither lead nor galvanized."
            if len(facts.portions) == 2
            else f"The line has a {facts.portions[0][0]} only, shown to be neither lead nor "
            "galvanized."
        ),
    ),
)
