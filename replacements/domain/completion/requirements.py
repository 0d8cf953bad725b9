"""What a utility asks of a finished job, and the figures of disinfection and flushing: data.

The shipped tables are `completion_requirements.csv` and `flushing.csv`, with source and mark on
every row; a utility lays its own choice over the first.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Self

from services_inventory.domain.reference import rows_of

_DISINFECTION = {
    "CONTINUOUS": "filled and held, as for mains",
    "SLUG": "strong slug, as for mains",
    "PLUMBING_24H": "house plumbing, the long hold",
    "PLUMBING_3H": "house plumbing, the short hold",
    "SWAB": "pipe ends and fittings swabbed",
}
_FIGURES = (("dose_mg_l", "mg/L"), ("dose_percent", "%"), ("hours", "h"))


class BadCompletion(ValueError):
    """A completion fact or a utility's requirement cannot be right; fit to show."""


@dataclass(frozen=True)
class Requirement:
    """One check: whether it is mandatory, its figures, and where they come from."""

    check: str
    mandatory: bool
    values: Mapping[str, float]
    source: str


@dataclass(frozen=True)
class CompletionRequirements:
    """The checks of one utility by name."""

    checks: Mapping[str, Requirement]

    def __getitem__(self, check: str) -> Requirement:
        return self.checks[check]

    def with_overrides(self, overrides: Mapping[str, Mapping[str, object]], by: str) -> Self:
        """Return these with a utility's own: check to its keys, with `mandatory` a bool.

        Raises
        ------
        BadCompletion: a check or key is not known, or a value is of the wrong kind.
        """
        checks = dict(self.checks)
        for name, changes in overrides.items():
            if name not in checks:
                raise BadCompletion(f"There is no check {name!r}. There are {', '.join(checks)}.")
            checks[name] = _overridden(checks[name], changes, by)
        return type(self)(checks)


@cache
def shipped_requirements() -> CompletionRequirements:
    """Return the checks as shipped."""
    checks: dict[str, Requirement] = {}
    for row in rows_of("replacements", "completion_requirements.csv"):
        old = checks.get(row["check"])
        values = {**(old.values if old else {})}
        if row["key"]:
            values[row["key"]] = float(row["value"])
        source = old.source if old else f"{row['source']} [{row['mark']}]"
        checks[row["check"]] = Requirement(row["check"], row["mandatory"] == "YES", values, source)
    return CompletionRequirements(checks)


@cache
def flushing_values() -> Mapping[tuple[str, str], Mapping[str, float]]:
    """Return (kind, method) to key and value of `flushing.csv`."""
    values: dict[tuple[str, str], dict[str, float]] = {}
    for row in rows_of("replacements", "flushing.csv"):
        values.setdefault((row["kind"], row["method"]), {})[row["key"]] = float(row["value"])
    return values


def disinfection_words(method: str) -> str:
    """Return a way of disinfecting in words, with its dose and time; a code not known as it is."""
    if method not in _DISINFECTION:
        return method.replace("_", " ").lower()
    values = flushing_values()["DISINFECTION", method]
    figures = [f"{values[key]:g} {unit}" for key, unit in _FIGURES if key in values]
    return f"{_DISINFECTION[method]} ({', '.join(figures)})"


def disinfection_choices() -> list[tuple[str, str]]:
    """Return every known way of disinfecting as (code, words)."""
    known = [method for kind, method in flushing_values() if kind == "DISINFECTION"]
    return [(method, disinfection_words(method)) for method in known]


def _overridden(old: Requirement, changes: Mapping[str, object], by: str) -> Requirement:
    values, mandatory = dict(old.values), old.mandatory
    for key, value in changes.items():
        if key == "mandatory" and isinstance(value, bool):
            mandatory = value
        elif key in values and isinstance(value, (int, float)) and not isinstance(value, bool):
            values[key] = float(value)
        else:
            known = ", ".join(["mandatory", *values])
            raise BadCompletion(f"{old.check} has no {key!r} of {value!r}; it has {known}.")
    return Requirement(old.check, mandatory, values, f"set by {by}; {old.source}")
