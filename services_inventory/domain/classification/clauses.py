"""The clauses of 40 CFR 141.2 in order: the first whose facts are all there decides.

A clause names the facts that it needs, and its sentence says those and nothing else; `needs` is
the table of them, and a test holds every sentence to the facts of every line that carries it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from services_inventory.domain.categories import Category
from services_inventory.domain.classification.facts import LineFacts, Policy
from services_inventory.domain.classification.needs import NEEDS, Need
from services_inventory.domain.materials import Connector, Material


@dataclass(frozen=True)
class Clause:
    """One clause of the rule: where all that it needs holds it decides, else the next is asked."""

    category: Category
    rule_id: str
    needs: tuple[Need, ...]
    reason: Callable[[LineFacts], str]
    would_settle: Callable[[LineFacts], tuple[str, ...]] = lambda facts: ()

    def applies(self, facts: LineFacts, policy: Policy) -> bool:
        """Whether every fact that the clause needs holds of a line."""
        return all(NEEDS[need](facts, policy) for need in self.needs)


def _named(facts: LineFacts, *materials: Material) -> str:
    """'The system side is' or 'Both sides are', for the portions of these materials."""
    names = [name for name, material in facts.portions if material in materials]
    return "Both sides are" if len(names) == 2 else f"The {names[0]} is"


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
    pipe = f"{_named(facts, Material.GALVANIZED)} galvanized"
    if facts.connector == Connector.LEAD:
        return f"{pipe} and below a lead connector, which counts in this State."
    return (
        f"{pipe}; whether it lies below a lead connector is not known, which counts in this State."
    )


def _connector_aside(facts: LineFacts) -> str:
    if facts.connector == Connector.LEAD:
        return "It lies below a lead connector, which does not count by the rule in force here."
    return (
        "Whether it lies below a lead connector is not known, which does not count by the rule in "
        "force here."
    )


def _galvanized(shown: Callable[[LineFacts], str]) -> Callable[[LineFacts], str]:
    """The sentence of galvanized pipe that is non-lead: what shows it, and that nothing is lead."""
    return lambda facts: (
        f"{_named(facts, Material.GALVANIZED)} galvanized; {shown(facts)}, and no portion is lead."
    )


def _nothing_above(facts: LineFacts) -> str:
    if facts.system == Material.NONE:
        return "there is no system side above it"
    return "no service line lies above it"


def _non_lead_galvanized(rule_id: str, shown, *needs: Need) -> tuple[Clause, Clause]:
    """Two clauses of galvanized pipe that is non-lead: below a connector set aside, and not."""
    every = (Need.GALVANIZED, Need.NO_LEAD, Need.NO_UNKNOWN, Need.NOT_BELOW_LEAD, *needs)
    aside = (*every, Need.CONNECTORS_DO_NOT_COUNT, Need.CONNECTOR_LEAD_OR_UNKNOWN)
    reason = _galvanized(shown)
    return (
        Clause(
            Category.NON_LEAD,
            "CONNECTORS_MAKE_GRR",
            aside,
            lambda facts: f"{reason(facts)} {_connector_aside(facts)}",
        ),
        Clause(Category.NON_LEAD, rule_id, every, reason),
    )


CLAUSES = (
    Clause(
        Category.LEAD,
        "LEAD_ANY_PORTION",
        (Need.LEAD_SIDE,),
        lambda facts: f"{_named(facts, Material.LEAD)} lead, which makes the whole line lead.",
    ),
    Clause(
        Category.LEAD,
        "LEAD_LINED_IS_LEAD",
        (Need.LEAD_LINED_SIDE,),
        lambda facts: (
            f"{_named(facts, Material.LEAD_LINED_GALVANIZED)} lead-lined galvanized pipe, "
            "which counts as lead."
        ),
    ),
    Clause(
        Category.GRR,
        "GRR_EVER_DOWNSTREAM_OF_LEAD",
        (Need.CUSTOMER_GALVANIZED, Need.SYSTEM_WAS_LEAD),
        lambda facts: (
            "The customer side is galvanized and lies below a system side that was lead before; "
            "replacing that lead does not change this."
        ),
        lambda facts: _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_EVER_DOWNSTREAM_OF_LEAD",
        (Need.GALVANIZED, Need.SYSTEM_BELOW_LEAD),
        lambda facts: (
            f"{_named(facts, Material.GALVANIZED)} galvanized and downstream of pipe that is or "
            "was lead."
        ),
        lambda facts: _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_DOWNSTREAM_OF_UNKNOWN",
        (Need.CUSTOMER_GALVANIZED, Need.SYSTEM_UNKNOWN),
        lambda facts: (
            "The customer side is galvanized and lies below a system side of unknown material."
        ),
        lambda facts: _identify(facts) + _SHOW_HISTORY[:1] + _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "GRR_NOT_DEMONSTRATED",
        # With no system side nothing lies upstream, so there is nothing to demonstrate.
        (Need.CUSTOMER_GALVANIZED, Need.SYSTEM_SIDE, Need.HISTORY_NOT_SHOWN),
        lambda facts: (
            "The customer side is galvanized, and nothing shows that the system side above it "
            "was never lead."
        ),
        lambda facts: _SHOW_HISTORY + _REPLACE_GALVANIZED,
    ),
    Clause(
        Category.GRR,
        "CONNECTORS_MAKE_GRR",
        (Need.GALVANIZED, Need.CONNECTORS_COUNT, Need.CONNECTOR_LEAD_OR_UNKNOWN),
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
        (Need.NO_SIDE,),
        lambda facts: "Neither a system side nor a customer side is recorded for this line.",
        lambda facts: ("A record or an inspection that shows which portions the line has.",),
    ),
    Clause(
        Category.UNKNOWN,
        "UNKNOWN_NOT_SHOWN",
        (Need.UNKNOWN_SIDE, Need.NO_LEAD),
        _unknown_reason,
        _identify,
    ),
    *_non_lead_galvanized(
        "NEVER_HAD_LEAD_RECORDS",
        lambda facts: "the system's records show that it never installed lead service lines",
        Need.CUSTOMER_GALVANIZED,
        Need.SYSTEM_SIDE,
        Need.SYSTEM_WAS_NOT_LEAD,
        Need.SYSTEM_NEVER_HAD_LEAD,
    ),
    *_non_lead_galvanized(
        "NEVER_HAD_LEAD_RECORDS",
        lambda facts: "evidence shows that the system side was never lead",
        Need.CUSTOMER_GALVANIZED,
        Need.SYSTEM_SIDE,
        Need.SYSTEM_NEVER_LEAD,
    ),
    *_non_lead_galvanized("GALVANIZED_NOTHING_ABOVE", _nothing_above, Need.NOTHING_ABOVE),
    Clause(
        Category.NON_LEAD,
        "NON_LEAD_SHOWN",
        (Need.A_SIDE, Need.ONLY_NON_LEAD),
        lambda facts: (
            "Every portion of the line is shown to be neither lead nor galvanized."
            if len(facts.portions) == 2
            else f"The line has a {facts.portions[0][0]} only, shown to be neither lead nor "
            "galvanized."
        ),
    ),
)
