"""What is still open before a submission: each with a sentence, a number and where to settle it."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils.timezone import localdate

from program.models import Notice, PlanStatement, PoolFreeze
from program.queries.rule_values import values_used
from program.rules import rules_in_force
from replacements.models import CompletionRecord
from services_inventory.models import Batch, Conflict, HeldRow, MatchQuestion, ServiceLine
from services_inventory.queries.counts import unplaced_lines


@dataclass(frozen=True)
class Question:
    """One open question; `place` is the name of the page where it is settled."""

    key: str
    number: int
    sentence: str
    place: str = ""


def open_questions(
    as_of: date, known_at: datetime, program_year: int, overdue: int = 0
) -> list[Question]:
    """Return every open question of a submission of a day, those that need a person first."""
    asked = (
        _conflicts(known_at),
        _completions(as_of),
        _held_rows(),
        _match_questions(),
        _values(as_of, known_at),
        _missing_pools(program_year),
        _plan_statement(as_of),
        _no_location(),
        _unplaced(),
        _overdue(overdue),
        _overdue_notices(known_at),
    )
    return [question for question in asked if question.number]


def _many(number: int, one: str, more: str) -> str:
    return f"1 {one}" if number == 1 else f"{number:,} {more}"


def _conflicts(known_at: datetime) -> Question:
    number = Conflict.objects.filter(resolved_at__isnull=True, opened_at__lte=known_at).count()
    found = _many(number, "line's evidence contradicts", "lines' evidence contradicts")
    sentence = f"{found} itself; the more protective reading stands until a person decides."
    return Question("CONFLICTS", number, sentence, "line_list")


def _completions(as_of: date) -> Question:
    number = CompletionRecord.objects.filter(
        review__isnull=True, finished_on__lte=as_of, work_order__state="HANDED_IN"
    ).count()
    found = _many(number, "completion record waits", "completion records wait")
    sentence = f"{found} for review; the work is in no count yet."
    return Question("COMPLETIONS", number, sentence, "review_queue")


def _held_rows() -> Question:
    live = Batch.objects.filter(kind="INTAKE", withdrawn_by__isnull=True, state="APPLIED")
    number = HeldRow.objects.filter(batch__in=live).count()
    found = _many(number, "row of the intake files is", "rows of the intake files are")
    return Question("HELD_ROWS", number, f"{found} held with a reason.", "batch_list")


def _match_questions() -> Question:
    number = MatchQuestion.objects.filter(decision__isnull=True).count()
    found = _many(number, "input row may", "input rows may")
    sentence = f"{found} belong to a line on record; a person says to which."
    return Question("MATCHES", number, sentence, "match_list")


def _values(as_of: date, known_at: datetime) -> Question:
    used = values_used(rules_in_force(known_at), as_of)
    number = sum(not value.settled for value in used)
    found = _many(number, "value of the rule is", "values of the rule are")
    sentence = f"{found} used that nobody has read in the rule's own text."
    return Question("VALUES", number, sentence, "rule_values")


def _missing_pools(program_year: int) -> Question:
    there = PoolFreeze.objects.filter(program_year__lte=program_year).count()
    number = max(0, program_year - there)
    found = _many(number, "program year has", "program years have")
    return Question("POOLS", number, f"{found} no frozen replacement pool, so no rate.", "rate")


def _plan_statement(as_of: date) -> Question:
    stated = PlanStatement.objects.filter(year=as_of.year).exists()
    sentence = f"Nobody has certified for {as_of.year} that the plan is updated or unchanged."
    return Question("PLAN", 0 if stated else 1, sentence, "plan_document")


def _no_location() -> Question:
    number = ServiceLine.objects.filter(
        category__isnull=False, premise__latitude__isnull=True
    ).count()
    found = _many(number, "line has", "lines have")
    return Question("NO_LOCATION", number, f"{found} no position on the map.", "line_list")


def _unplaced() -> Question:
    number = unplaced_lines().filter(latitude__isnull=False).order_by().count()
    found = _many(number, "line lies", "lines lie")
    return Question("UNPLACED", number, f"{found} outside every neighborhood.", "line_list")


def _overdue(number: int) -> Question:
    found = _many(number, "deadline is", "deadlines are")
    return Question("OVERDUE", number, f"{found} overdue.", "deadline_list")


def _overdue_notices(known_at: datetime) -> Question:
    late = Notice.objects.open().filter(due_on__lt=localdate(known_at))
    number = late.count()
    found = _many(number, "notice to customers is", "notices to customers are")
    return Question("NOTICES", number, f"{found} overdue.", "notice_list")
