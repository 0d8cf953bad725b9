"""What adopting a plan would change: lines that move, promises among them, money, and odds."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from program.models import Plan, PlanAreaLine
from program.queries.planning.comparing import compare_plans, odds_rows
from program.queries.planning.pool import answers
from replacements.models import WorkOrder

SHOWN = 20
IN_POOL = ("LEAD", "GRR", "UNKNOWN")


@dataclass(frozen=True)
class Move:
    """Lines of one area of the plan in force that come in another year."""

    area: str
    neighborhood: str
    before: int
    after: int | None
    lines: int


@dataclass(frozen=True)
class Adoption:
    """What changes from the plan in force; counts are of lines."""

    earlier: int
    same: int
    later: int
    left_out: int
    added: int
    consent_given: int
    ordered: int
    moves: tuple[Move, ...]
    more_moves: int
    cost_before: float
    cost_after: float
    odds: list[tuple[str, str, str]]


def adoption_of(plan: Plan, in_force: Plan) -> Adoption:
    """Return what changes line by line when a plan takes the place of the one in force."""
    before, after = _years(in_force), _years(plan)
    counted, moves, pushed = Counter(), Counter(), []
    for line, (year, area, hood) in before.items():
        new = after.get(line, (None,))[0]
        kind = kind_of_move(year, new)
        counted[kind] += 1
        if kind in ("later", "left_out"):
            pushed.append(line)
            moves[area, hood, year, new] += 1
    found = compare_plans(in_force, plan)
    worst = sorted(moves.items(), key=lambda one: (-one[1], one[0][0]))
    said = answers()
    ordered = WorkOrder.objects.filter(state__in=WorkOrder.OPEN_STATES)
    return Adoption(
        counted["earlier"],
        counted["same"],
        counted["later"],
        counted["left_out"],
        len(after.keys() - before.keys()),
        sum(said.get(line) == "GIVEN" for line in pushed),
        len(set(pushed) & set(ordered.values_list("line_id", flat=True))),
        tuple(Move(*key[:3], key[3], lines) for key, lines in worst[:SHOWN]),
        max(0, len(worst) - SHOWN),
        found.cost_before,
        found.cost_after,
        odds_rows(found),
    )


def _years(plan: Plan) -> dict[int, tuple[int, str, str]]:
    """Program year, area and neighborhood by line still open, where a plan places it in a year."""
    rows = PlanAreaLine.objects.filter(
        plan=plan, area__program_year__isnull=False, line__category__in=IN_POOL
    )
    names = ("line_id", "area__program_year", "area__name", "area__neighborhood__name")
    return {line: (year, area, hood) for line, year, area, hood in rows.values_list(*names)}


def kind_of_move(before: int, after: int | None) -> str:
    """Tell whether a line comes earlier, in the same year, later, or in none."""
    if after is None:
        return "left_out"
    return "same" if after == before else "earlier" if after < before else "later"
