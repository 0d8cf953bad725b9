"""The limits of a safe start: `replacements/reference/safety_rules.csv`, each with its source."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).resolve().parent.parent / "reference" / "safety_rules.csv"


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
    with FILE.open(newline="", encoding="utf-8") as handle:
        cells: list[dict[str, Any]] = list(csv.DictReader(handle))
    rows = [SafetyRule(**{**row, "value": float(row["value"])}) for row in cells]
    return {row.key: row for row in rows}
