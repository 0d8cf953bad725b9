"""Since when the present owner has the premises, and what was done about their consent."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Q, QuerySet
from django.utils.timezone import localtime

from services_inventory.domain.regulation import Rules
from services_inventory.models import ServiceLine

from ..domain.consent import Attempt, ConsentRules, Method, effort_made_on
from ..models import Consent, ContactAttempt, OwnerChange
from .together import rows_of


def owner_changes(as_of: date, known_at: datetime | None = None) -> QuerySet:
    """Return the changes of owner up to a day that stand, or stood at a moment if given."""
    stands = Q(withdrawn_at__isnull=True)
    if known_at is not None:
        stands = Q(recorded_at__lte=known_at) & (stands | Q(withdrawn_at__gt=known_at))
    return OwnerChange.objects.filter(stands, changed_on__lte=as_of)


def owner_since(line: ServiceLine, as_of: date) -> date | None:
    """Return the day the present owner took over, None where no change is on record."""
    changes = rows_of(line.premise, "owner_changes")
    standing = [row.changed_on for row in changes if row.withdrawn_at is None]
    return max((day for day in standing if day <= as_of), default=None)


def owners_since(as_of: date, known_at: datetime | None = None) -> dict[int, date]:
    """Return {line id: day the present owner took over} where a change is on record."""
    changes = owner_changes(as_of, known_at).order_by("changed_on")
    return dict(changes.values_list("premise__lines", "changed_on"))


class NewOwnerEffort(NamedTuple):
    """What was done about the consent of a line's new owner."""

    line_id: int
    location_id: str
    since: date
    offered_on: date | None
    effort_on: date | None


def efforts_with_new_owners(
    as_of: date, rules: Rules, lines: Q | None = None
) -> list[NewOwnerEffort]:
    """Return, for lead and GRR lines with a new owner, when the offer and the effort were made.

    An answer of the new owner, given or refused, ends both. Oldest change first.
    """
    wanted = ServiceLine.objects.filter(
        lines or Q(),
        category__in=("LEAD", "GRR"),
        premise__owner_changes__in=owner_changes(as_of),
    )
    rows = wanted.order_by("premise__owner_changes__changed_on", "id")
    rows = rows.values_list("id", "location_id", "premise__owner_changes__changed_on")
    since = {line_id: (place, day) for line_id, place, day in rows}
    attempts, answers = _attempts(since, as_of), _answers(since, as_of)
    found = []
    for line_id, (place, day) in since.items():
        measure = ConsentRules.on(rules, day)
        tried = [attempt for attempt in attempts.get(line_id, []) if attempt.day >= day]
        answered = min((one for one in answers.get(line_id, []) if one >= day), default=None)
        days = [attempt.day for attempt in tried] + [answered] * (answered is not None)
        effort_on = answered or effort_made_on(tried, measure)
        found.append(NewOwnerEffort(line_id, place, day, min(days, default=None), effort_on))
    return sorted(found, key=lambda row: (row.since, row.line_id))


def _attempts(line_ids: Iterable[int], as_of: date) -> dict[int, list[Attempt]]:
    found: dict[int, list[Attempt]] = {}
    rows = ContactAttempt.objects.filter(line__in=list(line_ids)).order_by("at", "id")
    for line_id, at, method in rows.values_list("line_id", "at", "method"):
        attempt = Attempt(localtime(at), Method(method))
        if attempt.day <= as_of:
            found.setdefault(line_id, []).append(attempt)
    return found


def _answers(line_ids: Iterable[int], as_of: date) -> dict[int, list[date]]:
    found: dict[int, list[date]] = {}
    rows = Consent.objects.filter(line__in=list(line_ids), answered_on__lte=as_of)
    for line_id, day in rows.values_list("line_id", "answered_on"):
        found.setdefault(line_id, []).append(day)
    return found
