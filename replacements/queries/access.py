"""Where getting in stands for a line: attempts, answers, what is missing."""

from datetime import date

from django.utils import timezone

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
from ..models import Consent, ContactAttempt
from .owners import owner_since


def consent_state(line: ServiceLine, as_of: date) -> ConsentStanding:
    """Return where consent stands for a line on a day; a change of owner starts it anew."""
    attempts = [
        Attempt(timezone.localtime(at), Method(method), outcome)
        for at, method, outcome in ContactAttempt.objects.filter(line=line)
        .order_by("at", "id")
        .values_list("at", "method", "outcome")
    ]
    answers = [
        OwnerAnswer(Answer(answer), day, name, document_id is not None, Capacity(capacity))
        for answer, day, name, document_id, capacity in Consent.objects.filter(line=line)
        .order_by("answered_on", "id")
        .values_list("answer", "answered_on", "given_by", "document_id", "capacity")
    ]
    rules = ConsentRules.on(rules_in_force(), as_of)
    since = owner_since(line, as_of)
    return consent_standing(attempts, answers, rules, as_of, owner_since=since)
