"""The gates of a start as data: `reference/start_gates.toml`, read the same way by the phone.

A gate is a condition over the facts, written with the operation first, and the sentence that it
says when the condition holds. Days are compared as ISO text, so that a phone compares them alike.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from itertools import groupby
from typing import Any

from replacements.domain.findings import Finding, Level
from replacements.domain.safety_rules import safety_rules
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.reference import toml_of

COMMON = "common practice, no source"
PIT, JOB = "pit", ""

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class Gate:
    """One gate; see the head of the file."""

    when: object
    says: str
    do: str
    rule: str
    source: str
    of: str = JOB
    level: str = "STOP"
    chain: str = ""
    alone: bool = False
    value: str = ""
    reckon: Mapping[str, object] = field(default_factory=dict)
    fields: Sequence[str] = ()


@cache
def start_gates() -> tuple[Gate, ...]:
    """Return the gates in their order, each with its rule and source."""
    rows = toml_of("replacements", "start_gates.toml")["gate"]
    return tuple(_gate(dict(row)) for row in rows)


def _gate(row: dict) -> Gate:
    limit, law = row.pop("limit", None), row.pop("law", False)
    if limit:
        rule = safety_rules()[limit]
        cited = f"State one-call law; {rule.cited}" if law else rule.cited
        row |= {"rule": rule.rule, "source": cited}
    return Gate(**{"source": COMMON} | row)


def judged(facts: Facts, as_of: date) -> list[Finding]:
    """Return what the gates say of a start, in their order.

    facts : as `JobSafety` names them, days as ISO text; no `pull` where nothing is pulled
    """
    found: list[Finding] = []
    for of, gates in groupby(start_gates(), key=lambda gate: gate.of):
        rows = list(gates)
        for scope in _scopes(facts, of):
            found += _said_of(rows, {**scope, "as_of": as_of.isoformat()})
    return found


def judged_pit(pit: Facts, as_of: date) -> list[Finding]:
    """Return what the gates say of one pit."""
    rows = [gate for gate in start_gates() if gate.of == PIT]
    return list(_said_of(rows, {**pit, "as_of": as_of.isoformat()}))


def _scopes(facts: Facts, of: str) -> Sequence[Facts]:
    if of == JOB:
        return [facts]
    if of == PIT:
        return facts["excavations"]
    if of == "pull" and facts["pull"] is None:
        return []
    return [facts[of] or {}]


def _said_of(gates: Sequence[Gate], scope: Facts) -> Iterator[Finding]:
    told = set()
    for gate in gates:
        if (gate.chain and gate.chain in told) or not holds(gate.when, scope):
            continue
        told.add(gate.chain)
        yield Finding(
            Level(gate.level),
            gate.rule,
            filled(gate.says, gate, scope),
            gate.source,
            filled(gate.do, gate, scope),
            value=scope.get(gate.value) if gate.value else None,
        )
        if gate.alone:
            return


def holds(when: object, scope: Facts) -> bool:
    """Return whether a condition holds."""
    return bool(_valued(when, scope))


def _valued(asked: object, scope: Facts):
    if isinstance(asked, str):
        return safety_rules()[asked[1:]].value if asked.startswith("@") else scope.get(asked)
    if not isinstance(asked, list):
        return asked
    name, *rest = asked
    if name == "has":
        said = str(scope.get(rest[0]) or "").casefold()
        return any(word in said for word in rest[1:])
    return _OPERATIONS[name](*(_valued(each, scope) for each in rest))


def _compared(compare: Callable) -> Callable:
    """Return a comparison that is false where either side is not known."""
    return lambda left, right: left is not None and right is not None and compare(left, right)


def _blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _days(since: str | None, until: str | None) -> int | None:
    if since is None or until is None:
        return None
    return (date.fromisoformat(until) - date.fromisoformat(since)).days


def _months(day: str | None, months: float) -> str | None:
    return None if day is None else add_months(date.fromisoformat(day), int(months)).isoformat()


def _times(left: float | None, right: float | None) -> float | None:
    return None if left is None or right is None else left * right


_OPERATIONS: dict[str, Callable] = {
    "and": lambda *each: all(each),
    "or": lambda *each: any(each),
    "not": lambda value: not value,
    "no": lambda value: value is False,
    "blank": _blank,
    "<": _compared(lambda left, right: left < right),
    "<=": _compared(lambda left, right: left <= right),
    ">": _compared(lambda left, right: left > right),
    ">=": _compared(lambda left, right: left >= right),
    "days": _days,
    "months": _months,
    "times": _times,
}


def filled(words: str, gate: Gate, scope: Facts) -> str:
    """Return a sentence with its figures and days filled in."""
    reckoned = {name: _valued(how, scope) for name, how in gate.reckon.items()}
    parts = words.split("{")
    said = [parts[0]]
    for part in parts[1:]:
        name, rest = part.split("}", 1)
        said.append(_told(reckoned[name] if name in reckoned else _valued(name, scope)) + rest)
    return "".join(said)


def _told(value: object) -> str:
    if isinstance(value, int | float):
        return f"{value:g}"
    text = str(value)
    try:
        return day_told(date.fromisoformat(text)) if len(text) == 10 else text
    except ValueError:
        return text
