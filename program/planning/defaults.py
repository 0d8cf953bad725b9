"""The planning settings a utility starts from, each with its mark and its source."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

_FILE = Path(__file__).resolve().parent.parent / "reference" / "planning_defaults.toml"


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
    rows = tomllib.loads(_FILE.read_text(encoding="utf-8"))["default"]
    return {
        row["key"]: Default(
            row["key"], row["value"], row["unit"], row["mark"], row["source"], row["summary"]
        )
        for row in rows
    }


def default(key: str):
    """The shipped value of one planning setting.

    Raises
    ------
    KeyError : there is no planning setting of that key.
    """
    return planning_defaults()[key].value
