"""Validation of non-lead lines: who is in the pool and why not, how far a draw has come."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q

from ..domain.evidence import PoolStatus, Portion
from ..domain.materials import Material
from ..domain.regulation import Rules
from ..domain.validation import (
    Draw,
    ValidationReport,
    VisitResult,
    error_interval,
    report,
    required_validations,
    to_visit,
)
from ..models import ServiceLine, ValidationDraw, ValidationPick
from .kept_counts import Cells, facts_mark, kept_cells
from .weigher import line_weighed

POOL_WORDS = (
    (PoolStatus.IN, "in the pool: known by other records or methods", "POOL_IN_OTHER_RECORDS"),
    (PoolStatus.OUT_BAN, "out: laid after the lead ban", "POOL_OUT_BAN"),
    (PoolStatus.OUT_TWO_POINTS, "out: seen at enough points", "POOL_OUT_TWO_POINTS"),
    (PoolStatus.OUT_REPLACED, "out: replaced", "POOL_OUT_REPLACED"),
)


def pool_ids() -> list[int]:
    """Return the ids of the lines in the validation pool, in their order."""
    return list(
        ServiceLine.objects.filter(category="NON_LEAD", validation=PoolStatus.IN.value)
        .order_by("id")
        .values_list("id", flat=True)
    )


def pool_rows() -> list[tuple[int, str]]:
    """Return (number, location identifier) of the lines in the validation pool."""
    pool = ServiceLine.objects.filter(category="NON_LEAD", validation=PoolStatus.IN.value)
    return list(pool.values_list("id", "location_id"))


def pool_by_rule(rules: Rules, day: date) -> dict:
    """Return how many non-lead lines are in the pool or out of it by which rule, and what follows.

    {rows: [{status, words, count, value}], size, required, total}; `value` is the rule's row.
    """
    counts = Counter()
    for cell in kept_cells("validation-pool", facts_mark(), _counted).values():
        counts.update(cell)
    rows = [
        {
            "status": status.value,
            "words": words,
            "count": counts.get(status.value, 0),
            "value": rules.get(rule_id, day),
        }
        for status, words, rule_id in POOL_WORDS
    ]
    size = counts.get(PoolStatus.IN.value, 0)
    return {
        "rows": rows,
        "size": size,
        "required": required_validations(size, rules),
        "total": sum(counts.values()),
    }


def _counted(kept: Q) -> Cells:
    """Return {neighborhood id: {pool status: non-lead lines}} of these lines."""
    cells: Cells = {}
    lines = ServiceLine.objects.filter(kept, category="NON_LEAD").order_by()
    rows = lines.values_list("neighborhood_id", "validation").annotate(n=Count("*"))
    for place, status, number in rows:
        cells.setdefault(place, {})[status] = number
    return cells


@dataclass(frozen=True)
class DrawState:
    """A draw with its picks in order, whose turn it is, and the figures so far."""

    draw: ValidationDraw
    visits: list[ValidationPick]
    report: ValidationReport
    reserve_left: int

    @property
    def is_stuck(self) -> bool:
        """Whether lines are still to be validated and no drawn or reserve line is left."""
        waiting = any(pick.result == VisitResult.OPEN for pick in self.visits)
        return not self.report.is_complete and not waiting

    @property
    def is_over(self) -> bool:
        """Whether another draw may be made."""
        return self.report.is_complete or self.is_stuck

    @property
    def share(self) -> str:
        """The found share of the validated lines with its exact 95% interval, in words."""
        if not self.report.validated:
            return ""
        low, high = error_interval(self.report.found, self.report.validated)
        found = self.report.found / self.report.validated
        return f"{found:.1%} (between {low:.1%} and {high:.1%})"


def draw_state(draw: ValidationDraw, day: date, rules: Rules) -> DrawState:
    """Return how far a draw has come by a day."""
    picks = {
        pick.line_id: pick
        for pick in draw.picks.select_related("line__premise", "line__neighborhood").order_by(
            "position"
        )
    }
    ids = list(picks)
    drawn = Draw(ids[: draw.required], ids[draw.required :])
    outcomes = {
        pk: VisitResult(pick.result)
        for pk, pick in picks.items()
        if pick.result != VisitResult.OPEN
    }
    visits = to_visit(drawn, outcomes)
    return DrawState(
        draw=draw,
        visits=[picks[pk] for pk in visits],
        report=report(draw.pool_size, drawn, outcomes, day, rules),
        reserve_left=len(ids) - len(visits),
    )


def latest_draws(limit: int = 20) -> list[ValidationDraw]:
    """Return the draws, the latest first."""
    return list(ValidationDraw.objects.order_by("-id")[:limit])


def draw_with(pk: int) -> ValidationDraw | None:
    """Return one draw, or None."""
    return ValidationDraw.objects.filter(pk=pk).first()


def pick_with(pk: int) -> ValidationPick | None:
    """Return one drawn line with its place, or None."""
    return (
        ValidationPick.objects.select_related("draw", "line__premise", "line__neighborhood")
        .filter(pk=pk)
        .first()
    )


def portions_to_validate(line_id: int, day: date) -> list[Portion]:
    """Return the portions of a line that still have to be seen by the rule of a day."""
    weighed, _ = line_weighed(line_id, day)
    return [
        found.portion
        for found in weighed.portions
        if found.portion != Portion.CONNECTOR
        and found.material != Material.NONE
        and found.validation == PoolStatus.IN
    ]


def visit_rows(state: DrawState):
    """Yield the rows of the visit list as a file: header first."""
    yield ["position", "location id", "address", "unit", "neighborhood", "latitude", "longitude",
           "system side", "customer side", "result", "result on"]  # fmt: skip
    for pick in state.visits:
        line, premise = pick.line, pick.line.premise
        yield [
            pick.position, line.location_id, premise.address, premise.unit,
            line.neighborhood.name if line.neighborhood else "", premise.latitude,
            premise.longitude, line.get_system_material_display(),
            line.get_customer_material_display(), pick.get_result_display(), pick.result_on,
        ]  # fmt: skip
