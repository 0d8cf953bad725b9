"""Publication 28's tables, read once from `services_inventory/reference/`."""

from functools import cache
from typing import NamedTuple

from services_inventory.domain.reference import rows_of

APP = "services_inventory"


class Suffix(NamedTuple):
    """A street suffix: the word in full and its standard abbreviation."""

    primary: str
    abbreviation: str


class Designator(NamedTuple):
    """A secondary unit designator and how it is used."""

    abbreviation: str
    needs_identifier: bool
    interchangeable: bool


@cache
def suffixes() -> dict[str, Suffix]:
    """Every spelling of a street suffix."""
    return {
        row["spelling"]: Suffix(row["primary"], row["abbreviation"])
        for row in rows_of(APP, "street_suffixes.csv")
    }


@cache
def suffix_in_full() -> dict[str, str]:
    """Standard abbreviation to the first word that has it: CRK, CREEK."""
    words: dict[str, str] = {}
    for suffix in suffixes().values():
        words.setdefault(suffix.abbreviation, suffix.primary)
    return words


@cache
def directionals() -> dict[str, str]:
    """Every spelling of a directional and its abbreviation."""
    return {row["spelling"]: row["abbreviation"] for row in rows_of(APP, "directionals.csv")}


@cache
def designators() -> dict[str, Designator]:
    """Every spelling of a secondary unit designator."""
    return {
        row["spelling"]: Designator(
            row["abbreviation"],
            row["needs_identifier"] == "yes",
            row["interchangeable"] == "yes",
        )
        for row in rows_of(APP, "unit_designators.csv")
    }


@cache
def highway_names() -> dict[tuple[str, ...], str]:
    """Every spelling of a numbered highway's name, as words, and its standard name."""
    return {
        tuple(row["spelling"].split()): row["standard"] for row in rows_of(APP, "highway_names.csv")
    }


@cache
def ordinal_words() -> dict[tuple[str, ...], str]:
    """Spelled-out ordinals as words and their numeral: ("TWENTY", "FIRST"), 21ST."""
    return {
        tuple(row["spelling"].split()): row["numeral"] for row in rows_of(APP, "ordinal_words.csv")
    }


@cache
def vocabulary() -> frozenset[str]:
    """Every word that can be something else than a name, and the signs."""
    phrases = [*highway_names(), *ordinal_words()]
    return frozenset().union(
        suffixes(), directionals(), designators(), "&@/-", ("AND", "AT", "OLD", "BOX"), *phrases
    )
