"""The thresholds a pull log is examined by: shipped as data, each a utility's to change."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from services_inventory.domain.reference import rows_of

from .log import PullLogError


@dataclass(frozen=True)
class Threshold:
    """One threshold with the range it may be set in and where it comes from."""

    key: str
    value: float
    low: float
    high: float
    unit: str
    rule: str
    reading: str
    mark: str
    source: str


@dataclass(frozen=True)
class EventRules:
    """All thresholds by key; `rules["stall_s"]` is a number, `source_of("STALL")` words."""

    thresholds: Mapping[str, Threshold]

    def __getitem__(self, key: str) -> float:
        return self.thresholds[key].value

    def source_of(self, rule: str) -> str:
        """Return the source and mark of the thresholds behind one rule."""
        found = [t for t in self.thresholds.values() if t.rule == rule]
        return f"{found[0].source} [{found[0].mark}]" if found else ""


@cache
def shipped_rules() -> EventRules:
    """Return the thresholds as shipped."""
    rows = map(_threshold, rows_of("replacements", "event_rules.csv"))
    return EventRules({row.key: row for row in rows})


def event_rules(overrides: Mapping[str, float] | None = None, by: str = "") -> EventRules:
    """Return the shipped thresholds with a utility's own values laid over them.

    Parameters
    ----------
    overrides : threshold key to value, in the unit of the table
    by : who set them, shown as their source

    Raises
    ------
    PullLogError: a key is not known, or a value lies outside the range it may be set in.
    """
    thresholds = dict(shipped_rules().thresholds)
    for key, value in (overrides or {}).items():
        if key not in thresholds:
            raise PullLogError(f"There is no threshold {key!r}. There are {', '.join(thresholds)}.")
        old = thresholds[key]
        if not old.low <= value <= old.high:
            raise PullLogError(
                f"{key} may be set from {old.low:g} to {old.high:g} {old.unit}, not to {value:g}."
            )
        source = f"set by {by or 'the utility'}"
        thresholds[key] = Threshold(**{**vars(old), "value": float(value), "source": source})
    return EventRules(thresholds)


def _threshold(row: Mapping[str, str]) -> Threshold:
    numbers: dict[str, Any] = {key: float(row[key]) for key in ("value", "low", "high")}
    return Threshold(**{**row, **numbers})
