"""Accepted work that may be looked at again, and how far a draw is."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Q

from ..models import CompletionRecord, Contractor, Reinspection, ReinspectionDraw

Result = Reinspection.Result
_OUTCOMES = (CompletionRecord.Outcome.REPLACED, CompletionRecord.Outcome.FOUND_NOT_LEAD)


def records_to_draw(first: date, last: date, contractor: Contractor | None) -> dict[str, int]:
    """Return name -> id of accepted work of a period that no earlier draw asked for."""
    rows = CompletionRecord.objects.filter(
        review__answer="ACCEPTED", outcome__in=_OUTCOMES, finished_on__range=(first, last)
    )
    if contractor is not None:
        rows = rows.filter(work_order__contractor=contractor)
    asked = Reinspection.objects.filter(Q(position__lte=F("draw__required")) | ~Q(result=""))
    rows = rows.exclude(pk__in=asked.values("completion"))
    return {
        f"{number} revision {revision}": pk
        for pk, number, revision in rows.values_list("pk", "work_order__number", "revision")
    }


def in_turn(draw: ReinspectionDraw) -> set[int]:
    """Return the picks to be visited: the drawn, and one of the reserve for each not seen."""
    picks = list(draw.picks.order_by("position").values_list("pk", "result"))
    turn, wanted = set(), draw.required
    for pk, result in picks:
        if len(turn) >= wanted:
            break
        turn.add(pk)
        wanted += result == Result.NO_ACCESS
    return turn


@dataclass(frozen=True)
class DrawShown:
    """A draw with how many were seen, and how many of those differ."""

    draw: ReinspectionDraw
    seen: int
    differ: int

    @property
    def done(self) -> bool:
        """Whether as many were seen as were asked for."""
        return self.seen >= self.draw.required


def draws_shown(limit: int = 50) -> list[DrawShown]:
    """Return the latest draws, the newest first."""
    counted = ReinspectionDraw.objects.select_related("contractor").annotate(
        seen=Count("picks", filter=Q(picks__result__in=(Result.AS_RECORDED, Result.DIFFERS))),
        differ=Count("picks", filter=Q(picks__result=Result.DIFFERS)),
    )
    return [DrawShown(draw, draw.seen, draw.differ) for draw in counted.order_by("-id")[:limit]]


def picks_shown(draw: ReinspectionDraw) -> list[dict]:
    """Return the picks in their order, each with whether it is in turn."""
    turn = in_turn(draw)
    rows = draw.picks.select_related(
        "completion__work_order__line__premise", "completion__work_order__contractor", "document"
    )
    return [
        {
            "pick": pick,
            "record": pick.completion,
            "order": pick.completion.work_order,
            "open": pick.pk in turn and not pick.result,
            "reserve": pick.pk not in turn,
        }
        for pick in rows.order_by("position")
    ]


def by_contractor() -> list[dict]:
    """Return for each company how many of its records were looked at again and how many differ."""
    rows = Reinspection.objects.filter(result__in=(Result.AS_RECORDED, Result.DIFFERS))
    return list(
        rows.values(name=F("completion__work_order__contractor__name"))
        .annotate(seen=Count("pk"), differ=Count("pk", filter=Q(result=Result.DIFFERS)))
        .order_by("name")
    )
