"""Figures that may lie in a range: default, low, high, mark and source of each, from a table."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from replacements.domain.reference_tables import rows


@dataclass(frozen=True)
class Parameter:
    """One constant, with the range in which it may plausibly lie.

    `low` and `high` equal `default` for thresholds, which are settings and not unknowns.
    """

    code: str
    name: str
    unit: str
    default: float
    low: float
    high: float
    mark: str
    source: str

    @property
    def uncertain(self) -> bool:
        return self.low < self.high


@cache
def load_parameters(table: str) -> Mapping[str, Parameter]:
    """Return the rows of a shipped table of parameters, by code."""
    return MappingProxyType({row["code"]: _parameter(row) for row in rows(table)})


def _parameter(row: Mapping[str, str]) -> Parameter:
    default = float(row["default"])
    return Parameter(
        code=row["code"],
        name=row["name"],
        unit=row["unit"],
        default=default,
        low=float(row["low"] or default),
        high=float(row["high"] or default),
        mark=row["mark"],
        source=row["source"],
    )
