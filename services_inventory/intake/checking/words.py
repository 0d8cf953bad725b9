"""How words become codes: a reader by kind of column, over the shipped tables of words."""

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType

from services_inventory.domain.evidence import read_basis
from services_inventory.domain.materials import (
    read_connector,
    read_material,
    read_unknown_label,
)
from services_inventory.domain.plumbing import read_plumbing, read_treatment
from services_inventory.domain.words import Reading, read
from services_inventory.intake.columns import ValueKind

# What yes and no mean, by what the column asks: is there a lead connector, any connector, was the
# side lead before, is there lead solder inside? "No lead connector" may still be another one.
_YES_NO: Mapping[ValueKind, Mapping[str, str]] = MappingProxyType(
    {
        ValueKind.LEAD_CONN: {"YES": "LEAD", "NO": "NON_LEAD", "UNKNOWN": "UNKNOWN"},
        ValueKind.HAS_CONN: {"YES": "UNKNOWN", "NO": "NONE", "UNKNOWN": "UNKNOWN"},
        ValueKind.WAS_LEAD: {"YES": "LEAD", "NO": "NO", "UNKNOWN": "UNKNOWN"},
        ValueKind.SOLDER: {"YES": "YES", "NO": "NO", "UNKNOWN": "UNKNOWN"},
    }
)


def _answer(text: str, kind: ValueKind) -> Reading:
    """Read yes, no or unknown; a connector's own words where the column holds them instead."""
    found = read(text, "yes_no_words.csv")
    if found.code:
        return Reading(_YES_NO[kind][found.code])
    if kind in (ValueKind.LEAD_CONN, ValueKind.HAS_CONN):
        return read_connector(text)
    return found


def read_category(text: str) -> Reading:
    """The category that a file gives a line: compared with the evidence, never taken."""
    if read_unknown_label(text).code:
        return Reading("UNKNOWN")
    return read(text, "category_words.csv")


READERS: Mapping[ValueKind, Callable[[str], Reading]] = MappingProxyType(
    {
        ValueKind.MATERIAL: read_material,
        ValueKind.CONNECTOR: read_connector,
        ValueKind.BASIS: read_basis,
        ValueKind.LINE_USE: partial(read, file_name="line_use_words.csv"),
        ValueKind.PREMISE_KIND: partial(read, file_name="premise_kind_words.csv"),
        ValueKind.PLUMBING: read_plumbing,
        ValueKind.TREATMENT: read_treatment,
        ValueKind.CATEGORY: read_category,
        **{kind: partial(_answer, kind=kind) for kind in _YES_NO},
    }
)
