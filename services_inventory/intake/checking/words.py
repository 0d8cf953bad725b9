"""The readers of words: material, connector, basis, use of the line, kind of premise, plumbing."""

from collections.abc import Callable
from dataclasses import dataclass

from services_inventory.domain.words import Reading

WordReader = Callable[[str], Reading]


@dataclass(frozen=True)
class Words:
    """How words become codes; a reader gives a reading with a code or the reason for none."""

    material: WordReader
    connector: WordReader
    basis: WordReader
    line_use: WordReader
    premise_kind: WordReader
    plumbing: WordReader
    treatment: WordReader


def standard_words() -> Words:
    """The readers over the shipped tables of words."""
    from services_inventory.domain.evidence import read_basis
    from services_inventory.domain.materials import read_connector, read_material
    from services_inventory.domain.plumbing import read_plumbing, read_treatment
    from services_inventory.domain.words import read

    return Words(
        material=read_material,
        connector=read_connector,
        basis=read_basis,
        line_use=lambda text: read(text, "line_use_words.csv"),
        premise_kind=lambda text: read(text, "premise_kind_words.csv"),
        plumbing=read_plumbing,
        treatment=read_treatment,
    )
