"""The replacement pool: the lines that the yearly rate is measured against.

The pool starts as every lead, galvanized-requiring-replacement (GRR) and unknown line of the
baseline inventory. At the start of each later program year, lines called non-lead and since
found lead or GRR (A) come in, and unknown lines found to be non-lead (B) go out. A replaced
line stays in, else ten percent a year would never finish. The pool is frozen with its line
list on the first day of the program year; a later correction moves the next pool, not that one
(40 CFR 141.84(d)(5)).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from program.domain.calendar import program_year_bounds
from program.domain.regulation import RULES
from services_inventory.domain.classification import Category
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Rules

IN_POOL = frozenset({Category.LEAD, Category.GRR, Category.UNKNOWN})
_LEAD_OR_GRR = frozenset({Category.LEAD, Category.GRR})


class PoolBasis(Labeled):
    """Which lines the pool counts."""

    ALL = "ALL", "All lines"
    UNDER_CONTROL = "UNDER_CONTROL", "Lines under the system's control"


@dataclass(frozen=True)
class PoolLine:
    """A line as the pool sees it; `under_control`: the system has access to replace all of it."""

    line_id: object
    category: Category
    under_control: bool = True


@dataclass(frozen=True)
class PoolSnapshot:
    """The pool of one program year, frozen on its first day, both bases with their line lists."""

    program_year: int
    frozen_on: date
    basis: PoolBasis
    line_ids: frozenset
    under_control_ids: frozenset

    @property
    def size(self) -> int:
        """Lines in the pool on the basis in use."""
        return self.size_on(self.basis)

    def size_on(self, basis: PoolBasis) -> int:
        """Lines in the pool on either basis, so that both figures can be shown."""
        return len(self.line_ids if basis is PoolBasis.ALL else self.under_control_ids)


@dataclass(frozen=True)
class CategoryStep:
    """One change of a line's category; `replaced`: by replacement, not by a finding.

    `before` is None when the line was not in the inventory until then.
    """

    line_id: object
    before: Category | None
    after: Category
    effective_on: date
    replaced: bool = False


@dataclass(frozen=True)
class PoolMovement:
    """What a program year's findings do to the pool, with the lines behind each number.

    `found_lead_or_grr` (A) come in, `found_non_lead` (B) go out. The other two move nothing by
    the formula and want a person's eye: lines called lead or GRR that turned out non-lead, and
    lines outside the pool that are now unknown.
    """

    program_year: int
    found_lead_or_grr: frozenset = frozenset()
    found_non_lead: frozenset = frozenset()
    lead_found_wrong: frozenset = frozenset()
    now_unknown: frozenset = frozenset()


def pool_basis(rules: Rules = RULES) -> PoolBasis:
    """The basis that the rule value POOL_BASIS names.

    Raises
    ------
    ValueError: the value is neither ALL nor UNDER_CONTROL.
    """
    return PoolBasis(rules.latest("POOL_BASIS").value)


def freeze(lines: Iterable[PoolLine], program_year: int, rules: Rules = RULES) -> PoolSnapshot:
    """Freeze the baseline's lead, GRR and unknown lines as the pool of a program year.

    Program year 1 starts so; the others follow by `next_snapshot`.

    Raises
    ------
    ValueError: a line is listed twice.
    """
    kept = [line for line in lines if line.category in IN_POOL]
    ids = frozenset(line.line_id for line in kept)
    if len(ids) < len(kept):
        raise ValueError("A line is listed twice in the inventory that the pool is frozen from.")
    controlled = frozenset(line.line_id for line in kept if line.under_control)
    first_day = program_year_bounds(program_year, rules)[0]
    return PoolSnapshot(program_year, first_day, pool_basis(rules), ids, controlled)


def movement(
    snapshot: PoolSnapshot, steps: Iterable[CategoryStep], rules: Rules = RULES
) -> PoolMovement:
    """Sort a program year's changes of category into what they do to the pool.

    A line's changes count together: unknown, then lead, then non-lead within one year is an
    unknown line found non-lead. A line found lead and replaced in the same year came in.
    """
    first, last = program_year_bounds(snapshot.program_year, rules)
    within = [step for step in steps if first <= step.effective_on <= last]
    ordered = sorted(within, key=lambda step: (str(step.line_id), step.effective_on))
    sorts: dict[str, set] = {}
    for line_id, of_line in groupby(ordered, key=lambda step: step.line_id):
        name = _sort_of(line_id in snapshot.line_ids, list(of_line))
        sorts.setdefault(name, set()).add(line_id)
    kept = {name: frozenset(ids) for name, ids in sorts.items() if name}
    return PoolMovement(snapshot.program_year, **kept)


def _sort_of(in_pool: bool, steps: list[CategoryStep]) -> str:
    start, end = steps[0].before, steps[-1].after
    replaced = any(step.replaced for step in steps)
    if not in_pool:
        found = end in _LEAD_OR_GRR or any(
            step.replaced and step.before in _LEAD_OR_GRR for step in steps
        )
        return "found_lead_or_grr" if found else "now_unknown" if end == Category.UNKNOWN else ""
    if end != Category.NON_LEAD or replaced:
        return ""
    return "found_non_lead" if start == Category.UNKNOWN else "lead_found_wrong"


def next_snapshot(
    snapshot: PoolSnapshot,
    moved: PoolMovement,
    under_control: Iterable[object] | None = None,
    rules: Rules = RULES,
) -> PoolSnapshot:
    """Freeze the next program year's pool: the lines of this one, plus A, minus B.

    `under_control`: lines under the system's control on the new first day; when None, those of
    this pool are carried on and the lines that come in are taken to be under control.

    Raises
    ------
    ValueError: the movement belongs to another program year.
    """
    if moved.program_year != snapshot.program_year:
        raise ValueError(
            f"The findings are of program year {moved.program_year}, "
            f"the pool is that of program year {snapshot.program_year}."
        )
    ids = (snapshot.line_ids | moved.found_lead_or_grr) - moved.found_non_lead
    carried = snapshot.under_control_ids | moved.found_lead_or_grr
    controlled = ids & frozenset(carried if under_control is None else under_control)
    number = snapshot.program_year + 1
    first_day = program_year_bounds(number, rules)[0]
    return PoolSnapshot(number, first_day, pool_basis(rules), ids, controlled)
