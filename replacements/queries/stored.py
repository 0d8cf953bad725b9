"""Findings and other domain values as they are kept in the record, and back again."""

import math
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum

from ..domain.findings import Finding, Level, worst

_PLAIN = frozenset({str, int, bool})
_FINDING = tuple(field.name for field in fields(Finding))


def plain(value):
    """Return a value of the domain as JSON can hold it; what is not a finite number is None."""
    if value is None or type(value) in _PLAIN:
        return value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value


def findings_kept(findings: Iterable[Finding]) -> list[dict]:
    """Return findings as the record keeps them."""
    return [plain(finding) for finding in findings]


def findings_back(kept: Iterable[dict]) -> list[Finding]:
    """Return kept findings as the domain's own."""
    return [
        Finding(**{**{k: v for k, v in row.items() if k in _FINDING}, "level": Level(row["level"])})
        for row in kept
    ]


def worst_level(findings: Iterable[Finding]) -> str:
    """Return the most severe level as a code, empty when there are no findings."""
    level = worst(findings)
    return level.value if level else ""


def stops(kept: Iterable[dict]) -> list[dict]:
    """Return those of the kept findings that forbid going on."""
    return [row for row in kept if row.get("level") == Level.STOP.value]
