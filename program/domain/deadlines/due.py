"""One thing that is due, and the calendar that sorts them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from operator import itemgetter
from typing import Protocol

from program.domain.calendar import business_days_after
from program.domain.regulation import RULES
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Rules

SOON_DAYS = 30  # what a page calls soon: a habit of offices, not a number of the rule


class SubjectKind(Labeled):
    """What a deadline is about."""

    PROGRAM = "PROGRAM", "Program"
    LINE = "LINE", "Line"
    ADDRESS = "ADDRESS", "Address"
    PERSON = "PERSON", "Person"


class DueState(Labeled):
    """How a deadline stands on a day."""

    OVERDUE = "OVERDUE", "Overdue"
    DUE_SOON = "DUE_SOON", "Due soon"
    OPEN = "OPEN", "Open"
    DONE = "DONE", "Done"

    @property
    def rank(self) -> int:
        """Order of urgency: 0 for OVERDUE, 3 for DONE."""
        return _RANKS[self]


_RANKS = {state: rank for rank, state in enumerate(DueState)}


@dataclass(frozen=True)
class Subject:
    """Whom or what a deadline is about; the id is what the record calls it, never a name."""

    kind: SubjectKind
    id: str


@dataclass(frozen=True)
class Due:
    """One thing that is due.

    `opens_on`: first day on which it may be done, where there is one. `occurrence` tells the
    repeats of one rule apart: a program year, the id of the work, else the day the clock started.
    """

    what: str
    subject: Subject
    due_on: date
    rule_id: str
    how_computed: str
    done_on: date | None = None
    opens_on: date | None = None
    occurrence: str = ""
    citation: str = ""
    mark: str = ""

    @cached_property
    def key(self) -> str:
        """What this is: the same however its due day moves."""
        parts = (self.rule_id, self.subject.kind, self.subject.id, self.occurrence)
        return "/".join(filter(None, parts))

    @property
    def late(self) -> bool:
        """Whether it was done after its day."""
        return self.done_on is not None and self.done_on > self.due_on

    def state(self, as_of: date, soon_days: int = SOON_DAYS) -> DueState:
        """How it stands at the end of a day; a thing done later than that day is not done yet."""
        if self.done_on is not None and self.done_on <= as_of:
            return DueState.DONE
        if self.due_on < as_of:
            return DueState.OVERDUE
        soon = self.due_on <= as_of + timedelta(days=soon_days)
        return DueState.DUE_SOON if soon else DueState.OPEN


class Fact(Protocol):
    """Something that starts clocks."""

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """What is due because of it, as known on a day."""


def calendar_of(
    facts: Iterable[Fact], as_of: date, rules: Rules = RULES, *, with_done: bool = False
) -> list[Due]:
    """Everything due because of the facts: overdue first, then by day.

    `with_done`: also what is done, last.
    """
    found = ((due.state(as_of), due) for fact in facts for due in fact.dues(as_of, rules))
    kept = [
        (state.rank, due.due_on, due.key, due)
        for state, due in found
        if with_done or state is not DueState.DONE
    ]
    return [due for *_, due in sorted(kept, key=itemgetter(0, 1, 2))]


def after(
    rules: Rules, rule_id: str, start: date, what: str, subject: Subject, since: str,
    done_on: date | None = None, occurrence: str | None = None,
) -> Due:  # fmt: skip
    """A thing due some days, months or business days after a start, by the rule in force then.

    since : words for the event that started the clock, such as "the discovery"
    """
    found = rules.get(rule_id, start)
    due_on = _add(start, found.value, found.unit, rules)
    how = f"{found.value} {found.unit} after {since} on {day_told(start)}"
    if found.value == 0:
        how = f"On or before {since} on {day_told(start)}"
    return Due(
        what,
        subject,
        due_on,
        rule_id,
        f"{how} ({found.citation}).",
        done_on,
        occurrence=start.isoformat() if occurrence is None else occurrence,
        citation=found.citation,
        mark=found.mark_in_words,
    )


def on_day(
    rules: Rules, rule_id: str, due_on: date, how: str, what: str, subject: Subject,
    done_on: date | None = None, occurrence: str = "",
) -> Due:  # fmt: skip
    """A thing due on a day that the program's calendar gives."""
    found = rules.latest(rule_id)
    return Due(
        what,
        subject,
        due_on,
        rule_id,
        f"{how} ({found.citation}).",
        done_on,
        occurrence=occurrence,
        citation=found.citation,
        mark=found.mark_in_words,
    )


def _add(start: date, count: int, unit: str, rules: Rules) -> date:
    if unit == "business days":
        return business_days_after(start, count, rules)
    if unit in _MONTHS:
        return add_months(start, count * _MONTHS[unit])
    if unit == "days":
        return start + timedelta(days=count)
    raise ValueError(f"A clock cannot run in {unit!r}; use days, business days, months or years.")


_MONTHS = {"months": 1, "years": 12}


def keep_until(made_on: date, rules: Rules = RULES) -> date:
    """The first day on which a record under the rule may be discarded, if nothing else keeps it."""
    return add_months(made_on, 12 * rules.value("RECORD_YEARS", made_on))
