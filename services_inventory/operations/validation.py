"""Validation of non-lead lines: drawing them, and recording what a visit found.

Source: 40 CFR 141.84(b)(5); the numbers are rule values with their own marks.
"""

from datetime import date, datetime, time
from io import BytesIO

from django.db import transaction
from django.utils.timezone import localdate, make_aware

from services_inventory.domain.days import day_told
from services_inventory.refused import Refused

from ..domain.classification import Category
from ..domain.content_types import TEXT
from ..domain.evidence import Portion
from ..domain.formulas import csv_text
from ..domain.validation import (
    VisitResult,
    deadline,
    draw,
    judge,
    points_missing,
    pool_digest,
    required_validations,
)
from ..models import Document, Evidence, ServiceLine, ValidationDraw, ValidationPick
from ..policy import rules_in_force
from ..queries.validation import (
    draw_state,
    latest_draws,
    pool_ids,
    pool_rows,
    portions_to_validate,
)
from .documents import document_store
from .evidence import EvidenceRefused, evidence_record_many, evidence_withdraw

POOL_LIST_BYTES = 200 * 1024**2
RESERVE_FACTOR = 2  # reserve lines kept for each drawn one; our choice, not the rule's


def validation_draw(*, by: str, drawn_on: date, seed: str) -> ValidationDraw:
    """Draw the lines to be visited from the pool, and keep draw and reserve in their order.

    The seed, the pool's list and its digest are kept, so that anybody can repeat the draw.

    Raises
    ------
    Refused: the pool is empty, no seed is given, or an earlier draw is not finished.
    """
    seed = seed.strip()
    if not seed:
        raise Refused("Write a seed: any words, best chosen by more than one person.")
    rules = rules_in_force()
    with transaction.atomic():
        _refuse_while_unfinished(drawn_on, rules)
        ids = pool_ids()
        if not ids:
            raise Refused("No line is in the validation pool, so there is none to draw.")
        required = required_validations(len(ids), rules)
        drawn = draw(ids, required, seed)
        made = ValidationDraw.objects.create(
            drawn_on=drawn_on,
            drawn_by=by,
            seed=seed,
            pool_size=len(ids),
            pool_sha256=pool_digest(ids),
            pool_list=_pool_list(by, drawn_on),
            required=required,
            due_on=deadline(drawn_on, rules).value,
        )
        kept = [*drawn, *drawn.reserve[: required * RESERVE_FACTOR]]
        ValidationPick.objects.bulk_create(
            [
                ValidationPick(draw=made, line_id=pk, position=position)
                for position, pk in enumerate(kept, start=1)
            ],
            batch_size=500,
        )
    return made


def _pool_list(by: str, drawn_on: date) -> Document:
    """Keep the pool as it is: number and location identifier, in the order of the digest."""
    rows = sorted(pool_rows(), key=lambda row: str(row[0]))
    text = csv_text(("number", "location_id"), rows)
    return document_store(
        file=BytesIO(text.encode()),
        name=f"validation-pool-{drawn_on}.csv",
        kind="VALIDATION_POOL",
        by=by,
        at=make_aware(datetime.combine(drawn_on, time(12))),
        allowed=(TEXT,),
        limit_bytes=POOL_LIST_BYTES,
    )


def _refuse_while_unfinished(day: date, rules) -> None:
    for earlier in latest_draws(1):
        if not draw_state(earlier, day, rules).is_over:
            raise Refused(
                f"The draw of {day_told(earlier.drawn_on)} is not finished. A new one now would "
                "let "
                "somebody choose between results; finish the visits first."
            )


def pick_result_record(
    *,
    pick: ValidationPick,
    points: list[dict],
    accessible: bool,
    basis: str,
    observed_on: date,
    by: str,
    recorded_at: datetime,
    note: str = "",
) -> ValidationPick:
    """Record what a visit found; the points are evidence, and the category follows at once.

    Parameters
    ----------
    points : dicts {portion, place, material}, one for each place where the pipe was seen

    Raises
    ------
    Refused: it is not this line's turn, nothing was seen, or the points cannot be true.
    """
    if not accessible and not note.strip():
        raise Refused("Say what was tried to get in.")
    if accessible and not points:
        raise Refused("Write at least one point where the pipe was seen.")
    with transaction.atomic():
        pick = ValidationPick.objects.select_for_update().get(pk=pick.pk)
        _refuse_out_of_turn(pick, observed_on)
        to_see = portions_to_validate(pick.line_id, observed_on)
        if accessible:
            _record_points(pick, points, basis, observed_on, by, recorded_at)
        line = ServiceLine.objects.get(pk=pick.line_id)
        seen = _points_by_portion(pick.points, to_see)
        result = judge(Category(line.category or ""), seen, accessible, rules_in_force())
        pick.result = result.value
        pick.result_on = observed_on
        pick.recorded_by = by
        pick.note = "\n".join(filter(None, (pick.note, note.strip())))
        pick.save()
    return pick


@transaction.atomic
def pick_result_withdraw(
    *, pick: ValidationPick, reason: str, by: str, recorded_at: datetime
) -> ValidationPick:
    """Take a visit's result back: its points as evidence too; the line is to be visited again.

    What stood there stays readable in the note and, struck through, at the line.

    Raises
    ------
    Refused: no reason is given, or nothing was recorded yet.
    """
    if not reason.strip():
        raise Refused("Say why the result is taken back.")
    pick = ValidationPick.objects.select_for_update().get(pk=pick.pk)
    if pick.result == VisitResult.OPEN and not pick.points:
        raise Refused("Nothing was recorded of this visit yet.")
    evidence = Evidence.objects.filter(
        line_id=pick.line_id, source=_source(pick), withdrawn_by__isnull=True
    )
    for row in evidence:
        evidence_withdraw(evidence=row, by=by, recorded_at=recorded_at, reason=reason)
    was = f"Taken back on {day_told(localdate(recorded_at))} by {by}: {reason.strip()}"
    on = f", {day_told(pick.result_on)}" if pick.result_on else ""
    was += f" (was: {pick.get_result_display()}{on})."
    pick.note = f"{pick.note}\n{was}".strip()
    pick.result, pick.result_on, pick.points = VisitResult.OPEN.value, None, []
    pick.save()
    return pick


def _source(pick: ValidationPick) -> str:
    return f"validation draw {pick.draw_id}, position {pick.position}"


def _refuse_out_of_turn(pick: ValidationPick, day: date) -> None:
    if pick.result != VisitResult.OPEN:
        raise Refused("This line has its result already.")
    state = draw_state(pick.draw, day, rules_in_force())
    if pick.pk not in {visit.pk for visit in state.visits}:
        raise Refused(
            "This line is in the reserve. It is visited only when a line before it has no access."
        )


def _record_points(
    pick: ValidationPick, points: list[dict], basis: str, observed_on: date, by: str, at: datetime
) -> None:
    rows = [
        {
            **point,
            "line_id": pick.line_id,
            "basis": basis,
            "points_seen": 1,
            "observed_on": observed_on,
            "source": _source(pick),
        }
        for point in points
    ]
    try:
        evidence_record_many(rows=rows, by=by, recorded_at=at)
    except EvidenceRefused as problem:
        raise Refused(str(problem).replace("Row ", "Point ", 1)) from problem
    pick.points = [*pick.points, *({**p, "on": observed_on.isoformat()} for p in points)]


def _points_by_portion(points: list[dict], to_see: list[Portion]) -> dict[Portion, int]:
    """Count the different places at which each portion was seen, in this validation."""
    seen: dict[Portion, set[str]] = {Portion(point["portion"]): set() for point in points}
    for point in points:
        seen[Portion(point["portion"])].add(point["place"].strip().casefold())
    portions = {*to_see, *seen} - {Portion.CONNECTOR}
    return {portion: len(seen.get(portion, ())) for portion in portions}


def pick_points_missing(pick: ValidationPick, day: date) -> dict[Portion, int]:
    """Return the points still to be seen on each portion before the line is validated."""
    to_see = portions_to_validate(pick.line_id, day)
    seen = _points_by_portion(pick.points, to_see)
    return points_missing(seen, rules_in_force()) if seen else {}
