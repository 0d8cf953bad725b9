"""The facts that a clause can need, each by the words a person reads and how it is told."""

from collections.abc import Callable, Mapping
from enum import StrEnum
from types import MappingProxyType

from services_inventory.domain.classification.facts import LineFacts, Policy
from services_inventory.domain.materials import Connector, Material


class Need(StrEnum):
    """One fact about a line, or about the system, in words."""

    A_SIDE = "a side is recorded"
    NO_SIDE = "no side is recorded"
    LEAD_SIDE = "a side is lead"
    LEAD_LINED_SIDE = "a side is lead-lined galvanized"
    NO_LEAD = "no side is lead or lead-lined"
    UNKNOWN_SIDE = "a side is of unknown material"
    NO_UNKNOWN = "no side is of unknown material"
    ONLY_NON_LEAD = "every side is shown to be neither lead nor galvanized"
    GALVANIZED = "a side is galvanized"
    CUSTOMER_GALVANIZED = "the customer side is galvanized"
    SYSTEM_SIDE = "there is a system side"
    SYSTEM_UNKNOWN = "the system side is of unknown material"
    SYSTEM_WAS_LEAD = "the system side is known to have been lead before"
    SYSTEM_WAS_NOT_LEAD = "the system side is not known to have been lead before"
    SYSTEM_NEVER_LEAD = "evidence shows every earlier system side to be other than lead"
    HISTORY_NOT_SHOWN = "nothing shows that the system side was never lead"
    SYSTEM_NEVER_HAD_LEAD = "the system's records show that it never installed lead"
    SYSTEM_BELOW_LEAD = "the galvanized pipe is or was downstream of lead pipe"
    NOT_BELOW_LEAD = "no lead pipe above the system side is on record"
    NOTHING_ABOVE = "no other side lies above the galvanized one"
    CONNECTOR_LEAD_OR_UNKNOWN = "the connector is lead, or of unknown material"
    CONNECTORS_COUNT = "connectors count in this State"
    CONNECTORS_DO_NOT_COUNT = "connectors do not count in this State"


def _sides(*materials: Material) -> Callable[[LineFacts, Policy], bool]:
    return lambda facts, policy: not {facts.system, facts.customer}.isdisjoint(materials)


_GALVANIZED = Material.GALVANIZED
_lead = _sides(Material.LEAD, Material.LEAD_LINED_GALVANIZED)
_unknown = _sides(Material.UNKNOWN)

NEEDS: Mapping[Need, Callable[[LineFacts, Policy], bool]] = MappingProxyType(
    {
        Need.A_SIDE: lambda facts, policy: bool(facts.portions),
        Need.NO_SIDE: lambda facts, policy: not facts.portions,
        Need.LEAD_SIDE: _sides(Material.LEAD),
        Need.LEAD_LINED_SIDE: _sides(Material.LEAD_LINED_GALVANIZED),
        Need.NO_LEAD: lambda facts, policy: not _lead(facts, policy),
        Need.UNKNOWN_SIDE: _unknown,
        Need.NO_UNKNOWN: lambda facts, policy: not _unknown(facts, policy),
        Need.ONLY_NON_LEAD: lambda facts, policy: all(m.is_non_lead for _, m in facts.portions),
        Need.GALVANIZED: _sides(_GALVANIZED),
        Need.CUSTOMER_GALVANIZED: lambda facts, policy: facts.customer == _GALVANIZED,
        Need.SYSTEM_SIDE: lambda facts, policy: facts.system != Material.NONE,
        Need.SYSTEM_UNKNOWN: lambda facts, policy: facts.system == Material.UNKNOWN,
        Need.SYSTEM_WAS_LEAD: lambda facts, policy: facts.system_was_lead is True,
        Need.SYSTEM_WAS_NOT_LEAD: lambda facts, policy: facts.system_was_lead is not True,
        Need.SYSTEM_NEVER_LEAD: lambda facts, policy: facts.system_was_lead is False,
        Need.HISTORY_NOT_SHOWN: lambda facts, policy: (
            facts.system_was_lead is None and not policy.never_had_lead
        ),
        Need.SYSTEM_NEVER_HAD_LEAD: lambda facts, policy: policy.never_had_lead,
        Need.SYSTEM_BELOW_LEAD: lambda facts, policy: facts.system_below_lead,
        Need.NOT_BELOW_LEAD: lambda facts, policy: not facts.system_below_lead,
        Need.NOTHING_ABOVE: lambda facts, policy: (
            facts.customer != _GALVANIZED or facts.system == Material.NONE
        ),
        Need.CONNECTOR_LEAD_OR_UNKNOWN: lambda facts, policy: (
            facts.connector in (Connector.LEAD, Connector.UNKNOWN)
        ),
        Need.CONNECTORS_COUNT: lambda facts, policy: policy.connectors_make_grr,
        Need.CONNECTORS_DO_NOT_COUNT: lambda facts, policy: not policy.connectors_make_grr,
    }
)
