"""The queue of rows that a person matches, and what was decided, fifty to a page."""

from math import cos, hypot, radians

from django.db.models import Count, Max, Q, QuerySet

from ..models import MatchQuestion, ServiceLine
from .keyset import PAGE_SIZE
from .locator import FEET_PER_DEGREE

PROPOSED_FROM = 95
FEET_A_METER = 3.28084
HALF = 100  # of a map's side, in its own units
LEAST_REACH_FT = 40
BARS_FT = (10, 25, 50, 100, 250, 500, 1000, 2500, 5000, 25_000, 100_000)
ACTS_SHOWN = 10


def acts(limit: int = ACTS_SHOWN) -> list[dict]:
    """Return the latest acts of which something still stands: one of each, by whom, how many."""
    standing = MatchQuestion.objects.filter(decision__isnull=False)
    found = standing.values("decision__decided_at", "decision__decided_by").annotate(
        number=Count("pk"), one=Max("decision_id"), used=Count("decision__uses")
    )
    return list(found.order_by("-decision__decided_at")[:limit])


def proposed(questions: QuerySet) -> dict:
    """Return what deciding these as proposed would do, over all of them, not one page."""
    best = list(questions.values_list("candidates__0", "batch_id"))
    lines = [one["line_id"] for one, _ in best]
    away = [one["meters"] * FEET_A_METER for one, _ in best if one["meters"] is not None]
    return {
        "lines": len(set(lines)),
        "shared": len(lines) - len(set(lines)),
        "files": len({batch for _, batch in best}),
        "farthest": max(away, default=None),
        "without_distance": len(best) - len(away),
    }


def with_maps(questions: list[MatchQuestion]) -> list[MatchQuestion]:
    """Give each question its map and its candidates their distance in feet."""
    ids = {one["line_id"] for question in questions for one in question.candidates}
    places = ServiceLine.objects.filter(pk__in=ids, premise__latitude__isnull=False)
    at = {pk: place for pk, *place in places.values_list(
        "pk", "premise__latitude", "premise__longitude")}  # fmt: skip
    for question in questions:
        for one in question.candidates:
            meters = one["meters"]
            one["feet"] = None if meters is None else round(meters * FEET_A_METER)
        question.map = _map(question, at)
        question.field = f"line-{question.pk}"
    return questions


def _map(question: MatchQuestion, at: dict[int, list]) -> dict | None:
    """Return a drawing, north up: the row's own point in the middle where it gives one."""
    given = (question.given.get("latitude"), question.given.get("longitude"))
    points = [
        (number, *at[one["line_id"]])
        for number, one in enumerate(question.candidates, start=1)
        if one["line_id"] in at
    ]
    if None in given and not points:
        return None
    north, east = given if None not in given else points[0][1:]
    across = FEET_PER_DEGREE * max(cos(radians(north)), 0.01)
    feet = [(n, (x - east) * across, (north - y) * FEET_PER_DEGREE) for n, y, x in points]
    reach = max([LEAST_REACH_FT, *(1.2 * hypot(x, y) for _, x, y in feet)])
    scale = HALF / reach
    bar = max((one for one in BARS_FT if one <= reach), default=BARS_FT[0])
    return {
        "given": None not in given,
        "dots": [{"number": n, "x": round(x * scale), "y": round(y * scale)} for n, x, y in feet],
        "bar": bar,
        "bar_to": round(bar * scale) - HALF + 8,
    }


def open_questions() -> QuerySet:
    """Return the questions that wait."""
    return MatchQuestion.objects.waiting().select_related("batch")


def decided_questions(text: str) -> QuerySet:
    """Return the decided questions, of which the address or identifier begins or ends so."""
    found = MatchQuestion.objects.filter(decision__isnull=False)
    if text:
        found = found.filter(Q(given_key__icontains=text) | Q(given__address__icontains=text))
    return found.select_related("batch", "decision").prefetch_related(
        "decision__lines__premise", "decision__uses", "decisions__lines__premise"
    )


def page_of(
    questions: QuerySet, after: int | None, *, newest_first: bool = False
) -> tuple[list, int | None]:
    """Return one page by the number of the question, and where the next begins, if it does."""
    order, step = ("-id", "lt") if newest_first else ("id", "gt")
    if after:
        questions = questions.filter(**{f"id__{step}": after})
    rows = list(questions.order_by(order)[: PAGE_SIZE + 1])
    return rows[:PAGE_SIZE], rows[PAGE_SIZE - 1].pk if len(rows) > PAGE_SIZE else None
