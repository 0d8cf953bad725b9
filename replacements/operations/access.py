"""Getting in: attempts to reach the owner or occupant, and their answer. Append-only."""

from datetime import date, datetime, timedelta

from django.utils.timezone import localdate

from services_inventory.domain.days import day_told
from services_inventory.models import Document, ServiceLine
from services_inventory.refused import Refused

from ..domain.people import LANGUAGES, Capacity
from ..models import Consent, ContactAttempt, Contractor
from ..queries.access import consent_state
from ..queries.owners import owner_since

__all__ = ["consent_record", "consent_state", "contact_attempt_record"]


# How far a phone's clock may be ahead of the program's.
CLOCKS_DIFFER = timedelta(minutes=15)
# What lies further back or ahead is a slip of the pen.
LONG_AGO, FAR_AHEAD = timedelta(days=3653), timedelta(days=731)


def checked(capacity: str, language: str) -> None:
    """Refuse a capacity or a language that is not known.

    Raises
    ------
    Refused: one of them is none of the known codes.
    """
    if capacity not in set(Capacity):
        raise Refused(f"There is no capacity {capacity!r}; choose {', '.join(Capacity)}.")
    if language and language not in LANGUAGES:
        raise Refused(f"There is no language {language!r}; choose {', '.join(LANGUAGES)}.")


def contact_attempt_record(
    *,
    line: ServiceLine,
    at: datetime,
    method: str,
    by: str,
    recorded_at: datetime,
    outcome: str = "",
    addressed_to: str = "OWNER",
    language: str = "",
    contractor: Contractor | None = None,
) -> ContactAttempt:
    """Record one attempt to reach somebody about a line.

    Raises
    ------
    Refused: the method, capacity or language is not known, or the attempt lies after the moment
        it is recorded.
    """
    if method not in ContactAttempt.Method.values:
        known = ", ".join(ContactAttempt.Method.values)
        raise Refused(f"There is no method {method!r}; choose one of {known}.")
    checked(addressed_to, language)
    if at > recorded_at + CLOCKS_DIFFER:
        raise Refused(f"The attempt is dated {day_told(at)}, {at:%H:%M}, which has not come yet.")
    if at < recorded_at - LONG_AGO:
        raise Refused(f"The attempt is dated {day_told(at)}; look at the year.")
    return ContactAttempt.objects.create(
        line=line,
        at=min(at, recorded_at),
        method=method,
        addressed_to=addressed_to,
        outcome=outcome[:200],
        language=language,
        contractor=contractor,
        recorded_by=by,
        recorded_at=recorded_at,
    )


def consent_record(
    *,
    line: ServiceLine,
    answer: str,
    answered_on: date,
    by: str,
    recorded_at: datetime,
    given_by: str = "",
    capacity: str = "OWNER",
    language: str = "",
    document: Document | None = None,
    note: str = "",
) -> Consent:
    """Record the owner's answer: GIVEN, REFUSED or REVOKED; the latest one holds.

    Raises
    ------
    Refused: the answer is none of these, lies in the future, or takes back what was never
        given.
    """
    if answer not in Consent.Answer.values:
        raise Refused(f"An answer is one of {', '.join(Consent.Answer.values)}.")
    checked(capacity, language)
    if answered_on > localdate(recorded_at):
        raise Refused(f"The answer is dated {day_told(answered_on)}, which has not come yet.")
    if answer == Consent.Answer.GIVEN and not given_by.strip():
        raise Refused("Write the name of the person who gave consent.")
    since = owner_since(line, answered_on) or date.min
    given = Consent.objects.filter(line=line, answer=Consent.Answer.GIVEN, answered_on__gte=since)
    if answer == Consent.Answer.REVOKED and not given.exists():
        raise Refused("No consent is on record that could be taken back; record a refusal.")
    return Consent.objects.create(
        line=line,
        answer=answer,
        given_by=given_by.strip()[:120],
        capacity=capacity,
        answered_on=answered_on,
        language=language,
        document=document,
        note=note,
        recorded_by=by,
        recorded_at=recorded_at,
    )
