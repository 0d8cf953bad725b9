"""What is known of the plumbing inside a building, as far as a sampling tier turns on it.

Source: 40 CFR 141.86(a), which sorts sites by lead, galvanized and copper plumbing and leaves out
taps behind a treatment device.
"""

from dataclasses import dataclass
from datetime import date

from services_inventory.domain.labels import Labeled
from services_inventory.domain.materials import EARLIEST_INSTALL_YEAR
from services_inventory.domain.words import Reading, read


class Plumbing(Labeled):
    """The pipe inside; where there are several, the first of this order that is there."""

    LEAD = "LEAD", "lead pipe"
    GALVANIZED_AND_SOLDER = "GALVANIZED_AND_SOLDER", "galvanized pipe, and copper with lead solder"
    GALVANIZED = "GALVANIZED", "galvanized pipe"
    COPPER_LEAD_SOLDER = "COPPER_LEAD_SOLDER", "copper with lead solder"
    COPPER = "COPPER", "copper, lead solder not known"
    PLASTIC = "PLASTIC"
    OTHER = "OTHER"

    @property
    def is_galvanized(self) -> bool:
        """Whether galvanized pipe is among it."""
        return self in (Plumbing.GALVANIZED, Plumbing.GALVANIZED_AND_SOLDER)

    @property
    def has_lead_solder(self) -> bool:
        """Whether copper with lead solder is among it."""
        return self in (Plumbing.COPPER_LEAD_SOLDER, Plumbing.GALVANIZED_AND_SOLDER)


class Treatment(Labeled):
    """A device that takes lead out, at the tap (point of use) or where the water comes in."""

    NONE = "NONE"
    POINT_OF_USE = "POINT_OF_USE"
    POINT_OF_ENTRY = "POINT_OF_ENTRY"


@dataclass(frozen=True)
class PlumbingInside:
    """What is on record of one premises; None for what is not."""

    pipes: Plumbing | None = None
    laid_year: int | None = None
    treatment: Treatment | None = None


def plumbing_contradictions(
    inside: PlumbingInside, built_year: int | None, as_of: date
) -> list[str]:
    """What cannot be true, one sentence each; ask before it is stored."""
    year = inside.laid_year
    for whose, given in (("building", built_year), ("plumbing", year)):
        if given is not None and not EARLIEST_INSTALL_YEAR <= given <= as_of.year:
            return [
                f"The {whose}'s year is {given}; write a year from {EARLIEST_INSTALL_YEAR} to "
                f"{as_of.year}."
            ]
    if year is not None and inside.pipes is None:
        return ["A year is given without the plumbing; say which pipe is inside."]
    return []


def read_plumbing(text: str | None) -> Reading:
    """The plumbing that the words name, or the reason why a person decides."""
    return read(text, "plumbing_words.csv")


def read_treatment(text: str | None) -> Reading:
    """The treatment that the words name, or the reason why a person decides."""
    return read(text, "treatment_words.csv")
