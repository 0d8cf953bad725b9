"""The limits of a safe start: `replacements/reference/safety_rules.csv`, each with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from services_inventory.domain.reference import rows_of


@dataclass(frozen=True)
class SafetyRule:
    """One limit with its source and mark."""

    key: str
    value: float
    unit: str
    rule: str
    reading: str
    mark: str
    source: str

    @property
    def cited(self) -> str:
        return f"{self.source} [{self.mark}]"


@cache
def safety_rules() -> Mapping[str, SafetyRule]:
    """Return the limits by key."""
    found = {}
    for row in rows_of("replacements", "safety_rules.csv"):
        cells: dict[str, Any] = {**row, "value": float(row["value"])}
        found[row["key"]] = SafetyRule(**cells)
    return found
