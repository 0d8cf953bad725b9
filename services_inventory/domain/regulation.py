"""Dated, cited values of the rule, read from TOML.

Every number and date that the program computes by stands in a `[[value]]` table of a
`regulation/` folder, with its paragraph, its source and a mark that says how surely it is
known. A change of the rule is a second row with its own period, never an edited number.
A State's or a utility's own value is a row of that jurisdiction, and wins while it is in force.
What such a value may be, stands beside the federal one as its range; where there is none, nobody
but the federal rule sets it.
"""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from datetime import date
from difflib import get_close_matches
from fractions import Fraction
from functools import cache, cached_property
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any, Self

from services_inventory.domain.allowed import Allowed, Kind, NotAllowed, bounds, written
from services_inventory.domain.days import day_told

FOLDER = Path(__file__).resolve().parent.parent / "regulation"
MARKS = ("seen", "memory", "derived")
CONFIDENCES = ("H", "M", "L")
NO_VALUE = "NONE"  # TOML has no null: the rule sets no such number, another jurisdiction may
JURISDICTIONS = ("FEDERAL", "STATE", "LOCAL", "UTILITY")  # the later wins

_NEEDED = ("id", "citation", "source", "mark", "read_on", "value", "unit", "summary")


class RegulationError(Exception):
    """A value of the rule is missing, unclear or contradicts another; fit to show."""


class UnknownRule(RegulationError, LookupError):
    """Nobody wrote a value under this id."""


class NoPeriod(RegulationError, LookupError):
    """The id exists, but none of its values is in force on the day asked for."""


class BadRule(RegulationError, ValueError):
    """A row cannot be read, or may not stand beside the others."""


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value of the rule in one period; `effective_to` is the first day it no longer holds."""

    id: str
    citation: str
    source: str
    source_url: str | None = None
    mark: str
    confidence: str | None = None
    read_on: date
    effective_from: date | None = None
    effective_to: date | None = None
    value: Any
    unit: str
    summary: str
    title: str = ""
    jurisdiction: str = "FEDERAL"
    author: str = ""
    reason: str = ""
    allowed: Allowed | None = None

    def holds_on(self, day: date) -> bool:
        """Tell whether this value is in force on the day."""
        return (self.effective_from is None or self.effective_from <= day) and (
            self.effective_to is None or day < self.effective_to
        )

    @property
    def name(self) -> str:
        """What pages call it, in plain words."""
        return self.title or self.id.replace("_", " ").capitalize()

    @property
    def needs_reading(self) -> bool:
        """Whether somebody must still read the rule's own text before this value is certified."""
        return self.mark != "seen"

    @property
    def mark_in_words(self) -> str:
        """The mark as a screen or the footer of an export shows it; whose own value it is."""
        if self.author:
            return f"recorded by {self.author}"
        sure = {"H": "high", "M": "medium", "L": "low"}.get(self.confidence or "")
        words = {"seen": "read in the source", "memory": "from memory", "derived": "worked out"}
        return words.get(self.mark, self.mark) + (f", {sure} confidence" if sure else "")


_KEYS = {field.name for field in fields(Value)} - {"allowed"} | {"range"}


@dataclass(frozen=True)
class Rules:
    """A set of values, asked by id and day; `day` is the one that `latest` is asked on, if any."""

    values: tuple[Value, ...]
    day: date | None = None

    @cached_property
    def _by_id(self) -> dict[str, tuple[Value, ...]]:
        ordered = sorted(self.values, key=lambda v: (v.id, *_place(v)))
        return {key: tuple(rows) for key, rows in groupby(ordered, key=lambda v: v.id)}

    def ids(self) -> tuple[str, ...]:
        """Every id, in alphabetical order."""
        return tuple(self._by_id)

    def all(self, rule_id: str) -> tuple[Value, ...]:
        """Every period of one id, federal first, then by date.

        Raises
        ------
        UnknownRule: no value has this id; the sentence lists ids that look like it.
        """
        try:
            return self._by_id[rule_id]
        except KeyError:
            near = get_close_matches(rule_id, self._by_id, n=3)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            raise UnknownRule(f"There is no rule value called {rule_id!r}.{hint}") from None

    def get(self, rule_id: str, as_of: date) -> Value:
        """The value in force on a day; a utility's over a locality's, a State's, the federal one.

        Raises
        ------
        UnknownRule: no value has this id.
        NoPeriod: the id has values, none of them in force on that day.
        """
        if (rule_id, as_of) not in self._on_day:
            self._on_day[rule_id, as_of] = self._found_on(rule_id, as_of)
        return self._on_day[rule_id, as_of]

    @cached_property
    def _on_day(self) -> dict[tuple[str, date], Value]:
        return {}

    def _found_on(self, rule_id: str, as_of: date) -> Value:
        rows = self.all(rule_id)
        holding = [row for row in rows if row.holds_on(as_of)]
        if not holding:
            periods = "; ".join(_period(row) for row in rows)
            raise NoPeriod(
                f"{rule_id} has no value in force on {day_told(as_of)}. It has: {periods}."
            )
        return max(holding, key=_place)

    def value(self, rule_id: str, as_of: date) -> Any:
        """Only the value itself; see `get`."""
        return self.get(rule_id, as_of).value

    @cached_property
    def _latest(self) -> dict[str, Value]:
        return {}

    def latest(self, rule_id: str) -> Value:
        """The value for planning that is not bound to one day.

        Without a day, the one whose period has no end. On a day, the one in force or, before
        its jurisdiction has any in force, its next: a value that ends later holds until then.

        Raises
        ------
        UnknownRule: no value has this id.
        NoPeriod: every value of this id ends on some day, or has ended by the day.
        """
        if rule_id not in self._latest:
            self._latest[rule_id] = self._found_latest(rule_id)
        return self._latest[rule_id]

    def _found_latest(self, rule_id: str) -> Value:
        rows = [
            row
            for row in self.all(rule_id)
            if row.effective_to is None or (self.day and self.day < row.effective_to)
        ]
        if not rows:
            raise NoPeriod(f"Every value of {rule_id} has an end; ask for it on a day.")
        last = max(rows, key=_place)
        if self.day is None:
            return last
        return min((row for row in rows if row.jurisdiction == last.jurisdiction), key=_place)

    def with_overrides(self, overrides: Iterable[Value]) -> Self:
        """These rules with dated values of a State, locality or utility laid over them.

        Raises
        ------
        UnknownRule: an override names an id that does not exist.
        BadRule: an override has no author or reason, claims to be federal, is of another kind
            than the value it replaces, or overlaps another of its own jurisdiction.
        """
        added = tuple(overrides)
        for override in added:
            self._admit(override)
        together = replace(self, values=self.values + added)
        ids = {override.id for override in added}
        clashes = [text for rule_id in sorted(ids) for text in _overlaps(together.all(rule_id))]
        if clashes:
            raise BadRule(" ".join(clashes))
        return together

    def _admit(self, override: Value) -> None:
        standing = self.all(override.id)[0]
        name = f"The override of {override.id} ({_period(override)})"
        if override.jurisdiction not in JURISDICTIONS[1:]:
            raise BadRule(f"{name} must belong to one of {', '.join(JURISDICTIONS[1:])}.")
        if not override.author.strip() or not override.reason.strip():
            raise BadRule(f"{name} needs an author and a reason.")
        if not _same_kind(override.value, standing.value):
            raise BadRule(
                f"{name} gives {override.value!r}, which is not of the same kind as "
                f"{standing.value!r} ({standing.unit or 'no unit'})."
            )

    def __or__(self, other: Self) -> Self:
        """Both folders together; of two rows that state the same, the first stays.

        Raises
        ------
        BadRule: the folders give one id different values for the same day.
        """
        stated = {_statement(row) for row in self.values}
        added = tuple(row for row in other.values if _statement(row) not in stated)
        together = replace(self, values=self.values + added)
        shared = set(self.ids()) & set(other.ids())
        clashes = [text for rule_id in sorted(shared) for text in _overlaps(together.all(rule_id))]
        if clashes:
            raise BadRule(" ".join(clashes))
        return together

    def check(self) -> list[str]:
        """Every fault found in the rows, each as one sentence; empty when all is well."""
        faults = [text for row in self.values for text in _faults(row)]
        for rule_id in self.ids():
            faults += _overlaps(self.all(rule_id)) + _gaps(self.all(rule_id))
        return faults


@cache
def load(folder: Path) -> Rules:
    """Read every TOML file of a folder, once.

    Raises
    ------
    BadRule: the folder holds no TOML file, a file is not TOML, or a row lacks a key or has one
        that is not known; the sentence names the file and the id.
    """
    files = sorted(Path(folder).glob("*.toml"))
    if not files:
        raise BadRule(f"There is no rule file (*.toml) in {folder}.")
    return Rules(tuple(value for file in files for value in _read(file)))


def inventory_rules() -> Rules:
    """The values that the inventory computes by."""
    return load(FOLDER)


def _read(file: Path) -> list[Value]:
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadRule(f"{file.name} is not readable TOML: {error}.") from error
    if set(content) - {"value"}:
        raise BadRule(f"{file.name} holds something else than [[value]] tables.")
    return [_value(file, row) for row in content.get("value", [])]


def _value(file: Path, row: dict) -> Value:
    name = f"{file.name}, {row.get('id', 'a row without id')}:"
    missing = [key for key in _NEEDED if key not in row]
    unknown = sorted(set(row) - _KEYS)
    if missing or unknown:
        parts = [f"lacks {', '.join(missing)}"] if missing else []
        parts += [f"has unknown keys {', '.join(unknown)}"] if unknown else []
        raise BadRule(f"{name} {' and '.join(parts)}.")
    value = _frozen(row["value"], row["unit"], name)
    allowed = row.pop("range", None)
    return Value(**{**row, "value": value, "allowed": allowed and _allowed(row, value, allowed)})


def _allowed(row: dict, value: Any, said: dict) -> Allowed:
    """Return the range of a row; its kind follows from the unit and the value."""
    kind = _kind(value, row["unit"], bool(said.get("one_of")))
    least, most = bounds(kind, (said.pop("least", None), said.pop("most", None)))
    table = value if kind is Kind.ROWS else ()
    return Allowed(
        kind=kind,
        unit=row["unit"],
        least=least,
        most=most,
        one_of=tuple(said.pop("one_of", ())),
        columns=len(table[0]) if table else 0,
        rising=not table or table[0] < table[-1],
        may_be_none=value is None,
        **said,
    )


def _kind(value: object, unit: str, has_choices: bool) -> Kind:
    if unit in _KINDS:
        return _KINDS[unit]
    if isinstance(value, bool):
        return Kind.YES_NO
    if has_choices:
        return Kind.CHOICES if isinstance(value, tuple) else Kind.CHOICE
    return Kind.ROWS if isinstance(value, tuple) else Kind.WHOLE


_KINDS = {
    "date": Kind.DAY, "month-day": Kind.MONTH_DAY, "fraction": Kind.SHARE,
    "in": Kind.MEASURE, "ft": Kind.MEASURE,
}  # fmt: skip


def _frozen(value: object, unit: str, name: str) -> object:
    if isinstance(value, list):
        return tuple(_frozen(part, unit, name) for part in value)
    if isinstance(value, dict):
        raise BadRule(f"{name} a value may not be a table; write arrays.")
    if isinstance(value, float):
        raise BadRule(f"{name} {value} is not exact; write it as text and unit = 'fraction'.")
    if value == NO_VALUE:
        return None
    if unit == "fraction" and isinstance(value, str):
        try:
            return Fraction(value)
        except (ValueError, ZeroDivisionError) as error:
            raise BadRule(f"{name} {value!r} is not a fraction such as '1/5' or '7.8'.") from error
    return value


def _same_kind(new: object, old: object) -> bool:
    numbers = (int, Fraction)
    if isinstance(new, float):
        return False
    if new is None or old is None:
        return True
    if isinstance(old, bool) or isinstance(new, bool):
        return isinstance(old, bool) and isinstance(new, bool)
    if isinstance(old, numbers):
        return isinstance(new, numbers)
    return isinstance(new, type(old))


def _statement(row: Value) -> tuple:
    return row.id, row.jurisdiction, row.effective_from, row.effective_to, row.value, row.unit


def _place(row: Value) -> tuple[int, date]:
    rank = JURISDICTIONS.index(row.jurisdiction) if row.jurisdiction in JURISDICTIONS else -1
    return rank, row.effective_from or date.min


def _period(row: Value) -> str:
    start = f"from {day_told(row.effective_from)}" if row.effective_from else "from the beginning"
    end = f" until before {day_told(row.effective_to)}" if row.effective_to else ""
    return f"{row.jurisdiction} {start}{end}"


def _by_jurisdiction(rows: Iterable[Value]) -> list[list[Value]]:
    ordered = sorted(rows, key=lambda v: (v.jurisdiction, *_place(v)))
    return [list(group) for _, group in groupby(ordered, key=lambda v: v.jurisdiction)]


def _overlaps(rows: Iterable[Value]) -> list[str]:
    return [
        f"{earlier.id}: two values hold at once ({_period(earlier)}; {_period(later)})."
        for group in _by_jurisdiction(rows)
        for earlier, later in pairwise(group)
        if earlier.effective_to is None or (later.effective_from or date.min) < earlier.effective_to
    ]


def _gaps(rows: Iterable[Value]) -> list[str]:
    federal = [row for row in rows if row.jurisdiction == "FEDERAL"]
    return [
        f"{earlier.id}: no value from {day_told(earlier.effective_to)} "
        f"until before {day_told(later.effective_from)}."
        for earlier, later in pairwise(federal)
        if earlier.effective_to and later.effective_from
        if earlier.effective_to < later.effective_from
    ]


def _faults(row: Value) -> list[str]:
    faults = [
        f"{row.id}: {key} is empty." for key in ("citation", "source", "summary")
        if not str(getattr(row, key)).strip()
    ]  # fmt: skip
    if row.mark not in MARKS:
        faults.append(f"{row.id}: mark {row.mark!r} is not one of {', '.join(MARKS)}.")
    if row.confidence is not None and row.confidence not in CONFIDENCES:
        faults.append(f"{row.id}: confidence {row.confidence!r} is not one of H, M, L.")
    if row.mark == "memory" and row.confidence is None:
        faults.append(f"{row.id}: a value from memory must say how sure it is (H, M or L).")
    if row.allowed and row.value is not None:
        faults += _range_faults(row, row.allowed)
    if row.jurisdiction not in JURISDICTIONS:
        faults.append(f"{row.id}: jurisdiction {row.jurisdiction!r} is not known.")
    if row.effective_from and row.effective_to and row.effective_from >= row.effective_to:
        faults.append(f"{row.id}: its period ends before it begins.")
    if row.jurisdiction != "FEDERAL" and not (row.author.strip() and row.reason.strip()):
        faults.append(f"{row.id}: a {row.jurisdiction} value needs an author and a reason.")
    return faults


def _range_faults(row: Value, allowed: Allowed) -> list[str]:
    """What is wrong with a range: it has no source, or the rule's own value lies outside it."""
    faults = [] if allowed.source.strip() else [f"{row.id}: its range names no source."]
    if allowed.safer not in ("", "less", "more"):
        faults.append(f"{row.id}: safer is {allowed.safer!r}, not less or more.")
    try:
        allowed.take(written(row.value))
    except NotAllowed as error:
        faults.append(f"{row.id}: {error}")
    return faults
