"""The queue of rows that a person matches, and what was decided, fifty to a page."""

from django.db.models import Q, QuerySet

from ..models import MatchQuestion
from .keyset import PAGE_SIZE

PROPOSED_FROM = 95


def open_questions() -> QuerySet:
    """Return the questions that wait."""
    return MatchQuestion.objects.filter(decision=None).select_related("batch")


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
