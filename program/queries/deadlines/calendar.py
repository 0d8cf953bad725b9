"""The calendar of a day: the facts of the program and of its lines, put in order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from program.domain.deadlines import Due, DueState, SubjectKind, calendar_of
from program.queries.done_marks import standing_marks
from program.rules import rules_in_force

from .chosen import Chosen
from .line_facts import SOURCES
from .program_facts import program_fact

LIMIT = 1_000


@dataclass(frozen=True)
class Deadlines:
    """What is due on a day, overdue first; `cut` names the kinds of facts that hit the limit."""

    as_of: date
    dues: list[Due]
    cut: tuple[str, ...]

    def number(self, state: DueState) -> int:
        """How many stand so."""
        return sum(due.state(self.as_of) is state for due in self.dues)


def deadlines_on(
    as_of: date, chosen: Chosen | None = None, limit: int = LIMIT, leave_out: Iterable[str] = ()
) -> Deadlines:
    """Return everything due and not done by a day: of all, or of the chosen lines or person.

    leave_out : kinds of facts (`SOURCES`) that a page has no room for
    Facts about lines are read oldest first up to a limit for each kind.
    """
    rules = rules_in_force()
    facts: list = [] if chosen else [program_fact(as_of, rules)]
    cut = []
    for name, source in SOURCES.items():
        if name in leave_out:
            continue
        found = list(source(as_of, rules, limit, chosen))
        if len(found) > limit:
            cut.append(name)
        facts += found[:limit]
    done = _done_marks(as_of)
    dues = [due for due in calendar_of(facts, as_of, rules) if told(due.key) not in done]
    return Deadlines(as_of, dues, tuple(cut))


def overdue_count(as_of: date) -> int:
    """Return how many deadlines are overdue on a day."""
    return deadlines_on(as_of).number(DueState.OVERDUE)


def _done_marks(as_of: date) -> set[str]:
    return {told(mark.key) for mark in standing_marks() if mark.done_on <= as_of}


def told(key: str) -> str:
    """The part of a key that marks are compared by.

    A notice and an inquiry have numbers of their own, whomever the calendar says they are about;
    the program is the same under another PWSID.
    """
    rule_id, *rest = key.split("/")
    if rest[:1] == [SubjectKind.PROGRAM]:
        return "/".join((rule_id, rest[0], *rest[2:]))
    numbered = rest and (rest[-1].startswith("notice-") or rule_id.startswith("DISPUTE_"))
    return f"{rule_id}/{rest[-1]}" if numbered else key
