"""Lines that were not replaced for lack of access or consent, with every attempt made."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.utils.timezone import localtime

from program.rules import rules_in_force
from replacements.domain.consent import (
    Answer,
    Attempt,
    Capacity,
    ConsentRules,
    ConsentStanding,
    ConsentState,
    Method,
    OwnerAnswer,
    standing,
)
from replacements.models import Consent, ContactAttempt
from replacements.queries.owners import owners_since
from services_inventory.domain.regulation import Rules

ONE_DAY = timedelta(days=1)
_LEFT = (ConsentState.REFUSED, ConsentState.EFFORT_MADE)


class AccessStanding(NamedTuple):
    """One line's owner: the attempts made, the answers given, and where that leaves consent.

    Where the premises changed hands the standing is the present owner's, and `before` is how it
    stood the day before.
    """

    line_id: int
    attempts: list[Attempt]
    answers: list[OwnerAnswer]
    standing: ConsentStanding
    owner_since: date | None = None
    before: ConsentStanding | None = None

    @property
    def blocked(self) -> bool:
        """Whether the line is left for now: refused, or tried as the rule asks without answer."""
        return self.standing.state in _LEFT

    @property
    def waits_for_new_owner(self) -> bool:
        """Whether it was left under the owner before, and the new one has given no answer."""
        left = self.before is not None and self.before.state in _LEFT
        return left and self.standing.state not in (*_LEFT, ConsentState.GIVEN)


def access_standings(
    as_of: date, known_at: datetime, rules: Rules | None = None
) -> Iterator[AccessStanding]:
    """Yield the standing of every line somebody asked the owner of, by line id.

    What was tried and said before a change of owner is told, but does not count.
    """
    measure = ConsentRules.on(rules or rules_in_force(known_at), as_of)
    attempts = _attempts(as_of, known_at)
    answers = _answers(as_of, known_at)
    owners = owners_since(as_of, known_at)
    for line_id in sorted({*attempts, *answers}):
        tried, said = attempts.get(line_id, []), answers.get(line_id, [])
        since = owners.get(line_id)
        found = standing(tried, said, measure, as_of, owner_since=since)
        before = standing(tried, said, measure, since - ONE_DAY) if since else None
        yield AccessStanding(line_id, tried, said, found, since, before)


def not_under_control(as_of: date, known_at: datetime) -> frozenset[int]:
    """Return the lines that the utility has no access or consent to replace."""
    return frozenset(row.line_id for row in access_standings(as_of, known_at) if row.blocked)


def _attempts(as_of: date, known_at: datetime) -> dict[int, list[Attempt]]:
    rows = (
        ContactAttempt.objects.filter(recorded_at__lte=known_at)
        .order_by("at", "id")
        .values_list("line_id", "at", "method", "outcome", "recorded_by")
    )
    found: dict[int, list[Attempt]] = {}
    for line_id, at, method, outcome, by in rows.iterator(5_000):
        at = localtime(at)
        if at.date() <= as_of:
            found.setdefault(line_id, []).append(Attempt(at, Method(method), outcome, by))
    return found


def _answers(as_of: date, known_at: datetime) -> dict[int, list[OwnerAnswer]]:
    rows = (
        Consent.objects.filter(recorded_at__lte=known_at, answered_on__lte=as_of)
        .order_by("answered_on", "id")
        .values_list("line_id", "answer", "answered_on", "given_by", "document_id", "capacity")
    )
    found: dict[int, list[OwnerAnswer]] = {}
    for line_id, answer, day, by, document, capacity in rows.iterator(5_000):
        said = OwnerAnswer(Answer(answer), day, by, document is not None, Capacity(capacity))
        found.setdefault(line_id, []).append(said)
    return found
