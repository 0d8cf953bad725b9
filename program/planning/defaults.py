"""The planning settings a utility starts from, each with its mark and its source."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from services_inventory.domain.reference import toml_of


@dataclass(frozen=True)
class Default:
    """One starting value, its unit, its mark (seen, memory, derived, judgment) and its source."""

    key: str
    value: Any
    unit: str
    mark: str
    source: str
    summary: str


@cache
def planning_defaults() -> dict[str, Default]:
    """Every planning default by key, as shipped.

    Examples
    --------
    >>> planning_defaults()["area_target_jobs"].value
    30
    """
    rows = toml_of("program", "planning_defaults.toml")["default"]
    return {row["key"]: Default(**row) for row in rows}


def default(key: str):
    """The shipped value of one planning setting.

    Raises
    ------
    KeyError : there is no planning setting of that key.
    """
    return planning_defaults()[key].value
