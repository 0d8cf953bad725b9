"""Set-up facts: what the maker of a tool set says of seating jaws, closing the nut, sizes.

They belong to the tool set, not to this program. What is shipped is common practice without a
source (`assembly_checks.csv`, `size_groups.csv`) and holds only where a set says nothing itself.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache

from replacements.domain.reference_tables import rows
from replacements.domain.units import inches

LEAD_SIZES_IN = (0.375, 0.5, 0.625, 0.75, 1.0, 1.25, 1.5, 2.0)
# A zero too many: no set-up fact of these tools comes near these, in the unit of its row.
_MOST = {"in": 1.0, "wrenches": 4, "ft-lb": 1000.0}


class BadSetUp(ValueError):
    """A set-up fact cannot be; fit to show."""


@dataclass(frozen=True)
class Fact:
    """What a set says of one row: bounds of what is measured, or words for what is seen."""

    low: float | None = None
    high: float | None = None
    words: str = ""


@dataclass(frozen=True)
class SizeGroup:
    """Old pipes, and the new pipes drawn in behind, that one group of tools is for.

    new_in : empty where nothing is said of the new pipe
    """

    old_in: tuple[float, ...]
    new_in: tuple[float, ...] = ()

    @property
    def label(self) -> str:
        """The group in words, such as 1/2 in. old pipe to 3/4 in. new pipe."""
        old, new = (" and ".join(map(inches, sizes)) for sizes in (self.old_in, self.new_in))
        return f"{old} old pipe" + (f" to {new} new pipe" if new else "")


@cache
def shipped_groups() -> tuple[SizeGroup, ...]:
    """Return the groups of tools as common practice has them."""
    return tuple(
        SizeGroup(*(tuple(map(float, row[name].split())) for name in ("old_sizes_in",
                                                                       "new_sizes_in")))
        for row in rows("size_groups")
    )  # fmt: skip


@dataclass(frozen=True)
class SetUp:
    """What one tool set says; empty for a tool that belongs to none.

    name : of the tool set
    instructions : the maker's instructions that it was read from: title, edition, page
    facts : by row of the checklist, what the set says instead of common practice
    groups : of tools by old and new pipe; None where the set says nothing of them
    """

    name: str = ""
    instructions: str = ""
    facts: Mapping[str, Fact] = field(default_factory=dict)
    groups: tuple[SizeGroup, ...] | None = None

    @property
    def source(self) -> str:
        """Where its facts come from, as a row cites them."""
        return f"{self.instructions} (tool set {self.name})"

    @property
    def size_groups(self) -> tuple[SizeGroup, ...]:
        """Its own groups, or those of common practice."""
        return shipped_groups() if self.groups is None else self.groups


NO_SET = SetUp()


def bounds_said(low: float | None, high: float | None, unit: str) -> str:
    """Return two bounds in words, such as 1/8 in. to 1/4 in."""
    said = [inches(v) if unit == "in" else f"{v:g} {unit}" for v in (low, high) if v is not None]
    if low == high and low is not None:
        return f"exactly {said[0]}" if low else "none"
    if low is None:
        return f"at most {said[0]}" if high else "none"
    return f"at least {said[0]}" if high is None else " to ".join(said)


def refuse_set_up(facts: Mapping[str, Fact], groups: Iterable[SizeGroup] | None) -> None:
    """Refuse facts that cannot be.

    Raises
    ------
    BadSetUp: a row has no facts of a set, bounds contradict each other or lie out of reach, a row
        that common practice bounds on both sides is left open on one, or a size is in two groups.
    """
    of_set = {row["check"]: row for row in rows("assembly_checks") if row["of_set"]}
    for check, fact in facts.items():
        row = of_set.get(check)
        if row is None or row["of_set"] == "GROUPS":
            raise BadSetUp(f"The checklist has no row {check!r} that a tool set may set.")
        if row["of_set"] == "BOUNDS":
            _refuse_bounds(row, fact)
        elif not fact.words.strip():
            raise BadSetUp(f"{row['shows']}: say in words what is to be seen.")
    seen: set[tuple[float, float | None]] = set()
    for group in groups or ():
        if not group.old_in:
            raise BadSetUp("A group of tools needs the old pipes that it is for.")
        pairs = {(old, new) for old in group.old_in for new in group.new_in or (None,)}
        if seen & pairs:
            raise BadSetUp(f"{group.label}: these sizes stand in two groups.")
        seen |= pairs


def _refuse_bounds(row: Mapping[str, str], fact: Fact) -> None:
    given = [value for value in (fact.low, fact.high) if value is not None]
    most = _MOST[row["unit"]]
    if not all(math.isfinite(value) and 0 <= value <= most for value in given):
        raise BadSetUp(f"{row['label']}: it lies between 0 and {most:g} {row['unit']}.")
    for name, said in (("low", "at least"), ("high", "at most")):
        if row[name] and getattr(fact, name) is None:
            raise BadSetUp(f"{row['label']}: give the bound “{said}” too.")
    if not given:
        raise BadSetUp(f"{row['label']}: give a bound.")
    if given[0] > given[-1]:
        raise BadSetUp(f"{row['label']}: {given[0]:g} is more than {given[-1]:g}.")
