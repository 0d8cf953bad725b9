"""Everything that happened to an order, with person and time, the oldest first."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import NamedTuple

from services_inventory.domain.days import day_told

from ..domain.pull_force import Verdict
from ..models import PullRecord, WorkOrder
from .pull_review import VERDICTS
from .together import rows_of


class Happened(NamedTuple):
    """One thing that happened: when it was recorded, by whom, and what."""

    at: datetime
    by: str
    what: str


def order_history(order: WorkOrder, changes: Iterable, pulls: Sequence[PullRecord]) -> list:
    """Return what is on record of an order, from the rows that its page has read.

    Parameters
    ----------
    changes : of its state, its start among them
    pulls : all of them, the withdrawn ones too
    """
    found = [
        *_changes(changes), *_access(order), *_lines(order), *_strings(order), *_estimates(order),
        *_pulls(pulls), *_reviews(order),
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.at)


def _changes(changes) -> Iterator[Happened]:
    for change in changes:
        told = f"{change.states_told}. {change.reason}" if change.reason else change.states_told
        yield Happened(change.changed_at, change.changed_by, told)


def _access(order: WorkOrder) -> Iterator[Happened]:
    for attempt in rows_of(order.line, "contact_attempts"):
        said = f"Tried to reach the {attempt.addressed_to.replace('_', ' ').lower()}"
        told = f"{said}: {attempt.get_method_display()}"
        yield Happened(attempt.recorded_at, attempt.recorded_by, told)
    for answer in rows_of(order.line, "consents"):
        said = f"Consent {answer.get_answer_display()} on {day_told(answer.answered_on)}"
        yield Happened(answer.recorded_at, answer.recorded_by, said)


def _lines(order: WorkOrder) -> Iterator[Happened]:
    for line in rows_of(order, "nearby_lines"):
        yield Happened(line.recorded_at, line.recorded_by, f"Another line near: {line}")
        yield from _withdrawn(line, "The other line")


def _strings(order: WorkOrder) -> Iterator[Happened]:
    for string in rows_of(order, "tool_strings"):
        worst = {"STOP": ", with a stop", "CAUTION": ", with a caution"}
        said = f"Tool string recorded{worst.get(string.worst_level, '')}"
        yield Happened(string.recorded_at, string.recorded_by, said)
        together: dict[tuple, list] = {}
        for answer in rows_of(string, "answers"):
            together.setdefault((answer.answered_at, answer.answered_by), []).append(answer)
        for (at, by), answers in together.items():
            noes = sum(answer.passed is False for answer in answers)
            said = f"{len(answers)} rows of the checklist answered"
            yield Happened(at, by, f"{said}, {noes} with no" if noes else said)


def _estimates(order: WorkOrder) -> Iterator[Happened]:
    for made in rows_of(order, "estimates"):
        said = f"Estimate: {Verdict(made.verdict).label}, up to {made.high_lbf:,.0f} lb"
        yield Happened(made.made_at, made.made_by, said)


def _pulls(pulls: Iterable[PullRecord]) -> Iterator[Happened]:
    for pull in pulls:
        peak = f", {pull.peak_lbf:,.0f} lb at most" if pull.peak_lbf else ""
        said = f"Log of the pull of {day_told(pull.pulled_on)}{peak}: "
        said += VERDICTS.get(pull.verdict, "not judged")
        yield Happened(pull.recorded_at, pull.recorded_by, said)
        yield from _withdrawn(pull, "The log")
        for word in rows_of(pull, "explanations"):
            yield Happened(word.explained_at, word.explained_by, f"Why it may stand: {word.why}")
            yield from _withdrawn(word, "The explanation")


def _reviews(order: WorkOrder) -> Iterator[Happened]:
    for record in rows_of(order, "completions"):
        if record.review_begun_at:
            said = f"Review of revision {record.revision} begun"
            yield Happened(record.review_begun_at, record.review_begun_by, said)


def _withdrawn(row, what: str) -> Iterator[Happened]:
    if row.withdrawn_at:
        said = f"{what} withdrawn. {row.withdrawn_reason}"
        yield Happened(row.withdrawn_at, row.withdrawn_by, said)
