"""What service lines and connectors are made of, and what people call it.

Lead-lined galvanized pipe counts as lead, so it is lead here and not galvanized
(40 CFR 141.2, lead service line; rule LEAD_LINED_IS_LEAD).
"""

from services_inventory.domain.labels import Labeled
from services_inventory.domain.words import Reading, read

EARLIEST_INSTALL_YEAR = 1800  # plausibility, not law: older public water pipe is a slip of the pen


class Material(Labeled):
    """The material of one portion of a service line."""

    LEAD = "LEAD"
    LEAD_LINED_GALVANIZED = "LEAD_LINED_GALVANIZED", "lead-lined galvanized"
    GALVANIZED = "GALVANIZED"
    COPPER = "COPPER"
    PLASTIC = "PLASTIC"
    IRON = "IRON", "cast or ductile iron"
    BRASS = "BRASS"
    OTHER_NON_LEAD = "OTHER_NON_LEAD", "other non-lead material"
    NON_LEAD = "NON_LEAD", "non-lead, material not recorded"
    UNKNOWN = "UNKNOWN"
    NONE = "NONE", "no such portion"

    @property
    def is_lead(self) -> bool:
        """Whether the rule counts this as lead."""
        return self in _LEAD

    @property
    def is_galvanized(self) -> bool:
        """Whether this is galvanized pipe without a lead lining."""
        return self is Material.GALVANIZED

    @property
    def is_non_lead(self) -> bool:
        """Whether this is a material that is neither lead nor galvanized."""
        return self in _NON_LEAD


class Connector(Labeled):
    """The short bendable piece between the main and the line, by lead status."""

    LEAD = "LEAD", "lead connector"
    NON_LEAD = "NON_LEAD", "non-lead connector"
    UNKNOWN = "UNKNOWN", "connector unknown"
    NONE = "NONE", "no connector"


_LEAD = frozenset({Material.LEAD, Material.LEAD_LINED_GALVANIZED})
_NON_LEAD = frozenset(
    {
        Material.COPPER,
        Material.PLASTIC,
        Material.IRON,
        Material.BRASS,
        Material.OTHER_NON_LEAD,
        Material.NON_LEAD,
    }
)


def read_material(text: str | None) -> Reading:
    """The code of the material that the words name, or the reason why a person decides.

    Bare 'steel' is read as galvanized: small steel service pipe was zinc-coated as a rule, and
    galvanized is the reading that protects. Bare 'iron' is left to a person, because cast iron
    is non-lead and galvanized iron may require replacement. "Unknown, could be lead" is unknown.
    """
    found = read(text, "material_words.csv")
    if found.code is None and read_unknown_label(text).code:
        return Reading(Material.UNKNOWN.value)
    return found


def read_connector(text: str | None) -> Reading:
    """The code of the connector that the words name, or the reason why a person decides."""
    return read(text, "connector_words.csv")


def read_unknown_label(text: str | None) -> Reading:
    """What the words suppose about an unknown material or line, such as "could be lead"."""
    return read(text, "unknown_label_words.csv")
