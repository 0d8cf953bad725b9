"""How words become codes: a reader by kind of column, over the shipped tables of words."""

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType

from services_inventory.domain.evidence import read_basis
from services_inventory.domain.materials import read_connector, read_material
from services_inventory.domain.plumbing import read_plumbing, read_treatment
from services_inventory.domain.words import Reading, read
from services_inventory.intake.columns import ValueKind

READERS: Mapping[ValueKind, Callable[[str], Reading]] = MappingProxyType(
    {
        ValueKind.MATERIAL: read_material,
        ValueKind.CONNECTOR: read_connector,
        ValueKind.BASIS: read_basis,
        ValueKind.LINE_USE: partial(read, file_name="line_use_words.csv"),
        ValueKind.PREMISE_KIND: partial(read, file_name="premise_kind_words.csv"),
        ValueKind.PLUMBING: read_plumbing,
        ValueKind.TREATMENT: read_treatment,
    }
)
