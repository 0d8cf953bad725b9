"""The facts about one line that the rule turns on."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from services_inventory.domain.categories import Category
from services_inventory.domain.labels import Labeled
from services_inventory.domain.materials import Connector, Material


class UnknownLabel(Labeled):
    """What is supposed about an unknown line; it is counted as UNKNOWN everywhere."""

    LIKELY_LEAD = "LIKELY_LEAD", "unknown - likely lead"
    LIKELY_GALVANIZED = "LIKELY_GALVANIZED", "unknown - likely galvanized"
    LIKELY_NON_LEAD = "LIKELY_NON_LEAD", "unknown - likely non-lead"
    NO_INDICATION = "NO_INDICATION", "unknown - no indication"

    @property
    def category(self) -> Category:
        """The category under which every count has this line."""
        return Category.UNKNOWN


@dataclass(frozen=True)
class LineFacts:
    """What is known about one line.

    `system_was_lead`: True known to have been lead before, False shown never lead, None not known.
    `system_below_lead`: a galvanized system side is or was itself downstream of lead.
    `set_aside`: what was seen and a documented decision of two people let not stand, such as
    "customer side: lead"; it changes no category by itself, and the reason names it.
    """

    system: Material
    customer: Material
    connector: Connector = Connector.UNKNOWN
    system_was_lead: bool | None = None
    system_below_lead: bool = False
    set_aside: tuple[str, ...] = ()

    @property
    def portions(self) -> tuple[tuple[str, Material], ...]:
        """The portions that exist, upstream first, each with its name."""
        both = (("system side", self.system), ("customer side", self.customer))
        return tuple((name, material) for name, material in both if material != Material.NONE)


@dataclass(frozen=True)
class Policy:
    """What holds for the whole system.

    `never_had_lead`: records show that the system never installed lead service lines.
    `connectors_make_grr`: the State counts a lead (or unknown) connector as upstream lead.
    """

    never_had_lead: bool = False
    connectors_make_grr: bool = False


FEDERAL = Policy()


def all_facts() -> Iterator[LineFacts]:
    """Every combination of facts without a decision against what was seen, in a fixed order."""
    for combination in product(Material, Material, Connector, (None, True, False), (False, True)):
        yield LineFacts(*combination)


def facts_key(facts: LineFacts) -> str:
    """A short text that stands for these facts and no others, for joining in the database.

    Examples
    --------
    >>> facts_key(LineFacts(Material.COPPER, Material.GALVANIZED, system_was_lead=False))
    'COPPER|GALVANIZED|UNKNOWN|N|N'
    """
    was_lead = _HISTORY_CODE[facts.system_was_lead]
    below = "Y" if facts.system_below_lead else "N"
    key = f"{facts.system}|{facts.customer}|{facts.connector}|{was_lead}|{below}"
    return "|".join((key, *(_ASIDE_CODE[said] for said in facts.set_aside)))


def facts_from_key(key: str) -> LineFacts:
    """The facts that a key stands for.

    Raises
    ------
    ValueError: the text is not a key that `facts_key` writes.
    """
    try:
        system, customer, connector, was_lead, below, *aside = key.split("|")
        return LineFacts(
            Material(system),
            Material(customer),
            Connector(connector),
            {code: value for value, code in _HISTORY_CODE.items()}[was_lead],
            {"Y": True, "N": False}[below],
            tuple({code: said for said, code in _ASIDE_CODE.items()}[code] for code in aside),
        )
    except (ValueError, KeyError):
        raise ValueError(f"{key!r} is not a key of line facts.") from None


_HISTORY_CODE = {True: "Y", False: "N", None: "?"}
# By two letters, as a key names up to three: what was seen of each portion.
_ASIDE_CODE = {
    f"{portion}: {seen}": portion_code + seen_code
    for (portion, portion_code), (seen, seen_code) in product(
        (("system side", "S"), ("customer side", "C"), ("connector", "X")),
        (("lead", "L"), ("galvanized", "G"), ("non-lead", "N")),
    )
}
