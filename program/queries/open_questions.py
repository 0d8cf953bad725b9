"""What is still open before a submission: each with a sentence, a number and where to settle it."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, QuerySet, Value
from django.utils.timezone import localdate

from program.models import Notice, PlanStatement, PoolFreeze
from program.queries.rule_values import values_used
from program.rules import rules_in_force
from replacements.models import CompletionRecord, WorkOrder
from services_inventory.models import Batch, Conflict, HeldRow, MatchQuestion, ServiceLine
from services_inventory.queries.counts import unplaced_lines


@dataclass(frozen=True)
class Question:
    """One open question; `place` is the name of the page where it is settled."""

    key: str
    number: int
    sentence: str
    place: str = ""


def numbers_of(asked: dict[str, QuerySet]) -> dict[str, int]:
    """Return how many rows each of several questions finds, by one statement."""
    first, *rest = (
        rows.order_by().annotate(of=Value(key)).values("of").annotate(n=Count("*"))
        for key, rows in asked.items()
    )
    found = {row["of"]: row["n"] for row in first.union(*rest, all=True)}
    return {key: found.get(key, 0) for key in asked}


def open_numbers(as_of: date, known_at: datetime, program_year: int) -> dict[str, int]:
    """Return how many rows each question finds, and as WAITING what is handed in by now."""
    return numbers_of(_asked(as_of, known_at, program_year))


def _asked(as_of: date, known_at: datetime, program_year: int) -> dict[str, QuerySet]:
    live = Batch.objects.filter(kind="INTAKE", withdrawn_by__isnull=True, state="APPLIED")
    return {
        "CONFLICTS": Conflict.objects.filter(resolved_at__isnull=True, opened_at__lte=known_at),
        "COMPLETIONS": CompletionRecord.objects.filter(
            review__isnull=True, finished_on__lte=as_of, work_order__state="HANDED_IN"
        ),
        "HELD_ROWS": HeldRow.objects.filter(batch__in=live),
        "MATCHES": MatchQuestion.objects.waiting(),
        "POOLS": PoolFreeze.objects.filter(program_year__lte=program_year),
        "PLAN": PlanStatement.objects.filter(year=as_of.year),
        "NO_LOCATION": ServiceLine.objects.filter(
            category__isnull=False, premise__latitude__isnull=True
        ),
        "UNPLACED": unplaced_lines().filter(latitude__isnull=False),
        "NOTICES": Notice.objects.open().filter(due_on__lt=localdate(known_at)),
        "WAITING": WorkOrder.objects.filter(state="HANDED_IN"),
    }


def open_questions(
    as_of: date,
    known_at: datetime,
    program_year: int,
    overdue: int = 0,
    numbers: dict[str, int] | None = None,
) -> list[Question]:
    """Return every open question of a submission of a day, those that need a person first.

    numbers : what `open_numbers` found, where somebody asked it before
    """
    found = dict(numbers or open_numbers(as_of, known_at, program_year))
    found["VALUES"] = sum(
        not value.settled for value in values_used(rules_in_force(known_at), as_of)
    )
    found["POOLS"] = max(0, program_year - found["POOLS"])
    found["PLAN"] = 0 if found["PLAN"] else 1
    found["OVERDUE"] = overdue
    return [
        Question(key, found[key], sentence.format(many(found[key], *nouns), as_of.year), place)
        for key, *nouns, sentence, place in _QUESTIONS
        if found[key]
    ]


def many(number: int, one: str, more: str) -> str:
    """Return a number with its noun."""
    return f"1 {one}" if number == 1 else f"{number:,} {more}"


# key, one, more, the sentence ({0}: the number with its noun, {1}: the year), the page's name
_QUESTIONS = (
    ("CONFLICTS", "line's evidence contradicts", "lines' evidence contradicts",
     "{0} itself; the more protective reading stands until a person decides.", "line_list"),
    ("COMPLETIONS", "completion record waits", "completion records wait",
     "{0} for review; the work is in no count yet.", "review_queue"),
    ("HELD_ROWS", "row of the intake files is", "rows of the intake files are",
     "{0} held with a reason.", "batch_list"),
    ("MATCHES", "input row may", "input rows may",
     "{0} belong to a line on record; a person says to which.", "match_list"),
    ("VALUES", "value of the rule is", "values of the rule are",
     "{0} used that nobody has read in the rule's own text.", "rule_values"),
    ("POOLS", "program year has", "program years have",
     "{0} no frozen replacement pool, so no rate.", "rate"),
    ("PLAN", "", "", "Nobody has certified for {1} that the plan is updated or unchanged.",
     "plan_document"),
    ("NO_LOCATION", "line has", "lines have", "{0} no position on the map.", "line_list"),
    ("UNPLACED", "line lies", "lines lie", "{0} outside every neighborhood.", "line_list"),
    ("OVERDUE", "deadline is", "deadlines are", "{0} overdue.", "deadline_list"),
    ("NOTICES", "notice to customers is", "notices to customers are", "{0} overdue.",
     "notice_list"),
)  # fmt: skip
