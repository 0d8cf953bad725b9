"""Looking again at accepted work: a random draw that anybody can repeat, and what was seen."""

from datetime import date, datetime
from math import ceil

from django.db import transaction

from services_inventory.domain.days import day_told
from services_inventory.domain.validation import draw, pool_digest
from services_inventory.models import Document
from services_inventory.refused import Refused

from ..models import Contractor, Reinspection, ReinspectionDraw
from ..queries.reinspections import in_turn, records_to_draw

Result = Reinspection.Result
RESERVE_FACTOR = 1  # reserve records kept for each drawn one; our choice


def reinspections_draw(
    *,
    first_day: date,
    last_day: date,
    share_percent: float,
    seed: str,
    drawn_on: date,
    by: str,
    at: datetime,
    contractor: Contractor | None = None,
) -> ReinspectionDraw:
    """Draw accepted records of a period at random; at least one, the rest in reserve.

    Records are put in an order by seed and name ("W-000012 revision 1"), so that whoever has the
    list of names repeats the draw.

    Raises
    ------
    Refused: the period ends before it begins, the share is not above 0 and at most 100, no seed is
        given, or no accepted work of the period is left to be drawn.
    """
    seed = seed.strip()
    if last_day < first_day:
        raise Refused("The period ends before it begins.")
    if not 0 < share_percent <= 100:
        raise Refused("The share is a percentage above 0, at most 100.")
    if not seed:
        raise Refused("Write a seed: any words, best chosen by more than one person.")
    with transaction.atomic():
        records = records_to_draw(first_day, last_day, contractor)
        if not records:
            raise Refused("No accepted work of this period is left to be drawn.")
        required = ceil(len(records) * share_percent / 100)
        drawn = draw(records, required, seed)
        made = ReinspectionDraw.objects.create(
            contractor=contractor,
            first_day=first_day,
            last_day=last_day,
            share_percent=share_percent,
            seed=seed,
            records=len(records),
            records_sha256=pool_digest(records),
            required=required,
            drawn_on=drawn_on,
            drawn_by=by,
            drawn_at=at,
        )
        kept = [*drawn, *drawn.reserve[: required * RESERVE_FACTOR]]
        Reinspection.objects.bulk_create(
            [
                Reinspection(draw=made, completion_id=records[name], position=position)
                for position, name in enumerate(kept, start=1)
            ],
            batch_size=500,
        )
    return made


def reinspection_record(
    *,
    reinspection: Reinspection,
    result: str,
    seen_on: date,
    seen_by: str,
    by: str,
    at: datetime,
    today: date,
    note: str = "",
    document: Document | None = None,
) -> Reinspection:
    """Record what was seen when somebody looked again; once, by nobody who took part before.

    Raises
    ------
    Refused: it has a result, is not in turn, is dated wrongly, says not what differs, or the person
        handed the record in or accepted it.
    """
    note, seen_by = note.strip(), seen_by.strip()
    with transaction.atomic():
        held = Reinspection.objects.select_for_update(of=("self",)).select_related(
            "completion__review", "draw"
        )
        pick = held.get(pk=reinspection.pk)
        _refuse(pick, result, seen_on, seen_by, by, today, note)
        pick.result, pick.note, pick.document = result, note, document
        pick.seen_on, pick.seen_by = seen_on, seen_by
        pick.recorded_by, pick.recorded_at = by, at
        pick.save()
    return pick


def _refuse(pick: Reinspection, result, seen_on: date, seen_by, by, today: date, note) -> None:
    record = pick.completion
    if result not in Result.values:
        raise Refused(f"A result is one of {', '.join(Result.values)}.")
    if pick.result:
        raise Refused(f"It has a result already: {pick.get_result_display()}.")
    if pick.pk not in in_turn(pick.draw):
        raise Refused("It is in reserve; it follows when a drawn one is not seen.")
    if by in (record.handed_in_by, record.review.reviewed_by):
        raise Refused(
            "Who handed a record in or accepted it does not look at it again; ask somebody else."
        )
    if not record.finished_on <= seen_on <= today:
        raise Refused(
            f"The visit is dated {day_told(seen_on)}; the work was finished on "
            f"{day_told(record.finished_on)}, and today is {day_told(today)}."
        )
    if not seen_by:
        raise Refused("Write who looked.")
    if result != Result.AS_RECORDED and not note:
        raise Refused("Say what differs, or what was tried to see it.")
