"""What one change of a plan's areas by hand does, to be seen before it is kept."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from program.models import Plan, PlanAreaLine, PlanEdit
from program.queries.planning.adoption import kind_of_move
from program.queries.planning.pool import answers
from replacements.models import WorkOrder


@dataclass(frozen=True)
class Effect:
    """A change before it is kept; counts are of lines.

    before, after : each area touched, with its lines, jobs, cost and program year
    moves : (from, to, lines) of the lines that change their area
    against : of those lines, how many come earlier, later or in no year, against the plan in force
    consent : lines put off whose owner has said yes
    orders : open orders on lines that change their area, by their state in words
    """

    before: list[dict]
    after: list[dict]
    moves: list[tuple[str, str, int]]
    in_force: Plan | None
    against: dict[str, int]
    consent: int
    orders: list[tuple[str, int]]

    @property
    def moved(self) -> int:
        """Lines that change their area."""
        return sum(lines for _, _, lines in self.moves)

    @property
    def put_off(self) -> int:
        """Lines that come later than the plan in force promises, or in no year."""
        return self.against.get("later", 0) + self.against.get("left_out", 0)


def effect_of(plan: Plan, edit: PlanEdit) -> Effect:
    """Return what a change that was just made did to the areas it touched."""
    was = {line: row["key"] for row in edit.before for line in row["lines"]}
    rows = PlanAreaLine.objects.filter(plan=plan, area__key__in=edit.made)
    now = {
        line: (key, year)
        for line, key, year in rows.values_list("line_id", "area__key", "area__program_year")
    }
    moved = {line: now[line] for line, key in was.items() if now[line][0] != key}
    in_force = Plan.objects.filter(state=Plan.State.ADOPTED).exclude(pk=plan.pk).first()
    against, put_off = _against(in_force, rows, moved)
    said = answers() if put_off else {}
    moves = Counter((was[line], key) for line, (key, _) in moved.items())
    return Effect(
        before=[{**row, "lines": len(row["lines"])} for row in edit.before],
        after=_shown(plan, edit, Counter(key for key, _ in now.values())),
        moves=[(*pair, lines) for pair, lines in sorted(moves.items())],
        in_force=in_force,
        against=against,
        consent=sum(said.get(line) == "GIVEN" for line in put_off),
        orders=_orders(set(moved)),
    )


def _shown(plan: Plan, edit: PlanEdit, held: Counter) -> list[dict]:
    names = ("key", "name", "jobs", "cost", "program_year")
    areas = plan.areas.filter(key__in=edit.made).order_by("key")
    return [{**row, "lines": held[row["key"]]} for row in areas.values(*names)]


def _against(in_force: Plan | None, touched, moved: dict) -> tuple[dict[str, int], list[int]]:
    """Compare the year in which each line that moves comes now with the one in force."""
    if in_force is None:
        return {}, []
    rows = in_force.area_lines.filter(
        line_id__in=touched.values("line_id"), area__program_year__isnull=False
    )
    kinds = {
        line: kind_of_move(year, moved[line][1])
        for line, year in rows.values_list("line_id", "area__program_year")
        if line in moved
    }
    put_off = [line for line, kind in kinds.items() if kind in ("later", "left_out")]
    return dict(Counter(kinds.values())), put_off


def _orders(moved: set[int]) -> list[tuple[str, int]]:
    """Open orders on the lines by their state; the orders are asked, as the lines may be many."""
    rows = WorkOrder.objects.filter(state__in=WorkOrder.OPEN_STATES)
    states = Counter(state for line, state in rows.values_list("line_id", "state") if line in moved)
    return [(WorkOrder.State(state).label, count) for state, count in sorted(states.items())]
