"""Where getting in stands for a line: attempts, answers, what is missing."""

from datetime import date

from django.utils import timezone

from services_inventory.asked_once import once
from services_inventory.models import ServiceLine
from services_inventory.policy import rules_in_force

from ..domain.consent import (
    Answer,
    Attempt,
    Capacity,
    ConsentRules,
    ConsentStanding,
    Method,
    OwnerAnswer,
)
from ..domain.consent import standing as consent_standing
from .owners import owner_since
from .together import rows_of


@once
def consent_state(line: ServiceLine, as_of: date) -> ConsentStanding:
    """Return where consent stands for a line on a day; a change of owner starts it anew."""
    attempts = [
        Attempt(timezone.localtime(row.at), Method(row.method), row.outcome)
        for row in sorted(rows_of(line, "contact_attempts"), key=lambda row: row.at)
    ]
    answers = [
        OwnerAnswer(
            Answer(row.answer), row.answered_on, row.given_by, row.document_id is not None,
            Capacity(row.capacity),
        )
        for row in sorted(rows_of(line, "consents"), key=lambda row: row.answered_on)
    ]  # fmt: skip
    rules = ConsentRules.on(rules_in_force(), as_of)
    since = owner_since(line, as_of)
    return consent_standing(attempts, answers, rules, as_of, owner_since=since)
