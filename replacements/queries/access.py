"""Where getting in stands for a line: attempts, answers, what is missing."""

from datetime import date

from django.utils import timezone

from services_inventory.models import ServiceLine
from services_inventory.policy import rules_in_force

from ..domain.consent import Answer, Attempt, ConsentRules, ConsentStanding, Method, OwnerAnswer
from ..domain.consent import standing as consent_standing
from ..models import Consent, ContactAttempt


def consent_state(line: ServiceLine, as_of: date) -> ConsentStanding:
    """Return where consent stands for a line on a day."""
    attempts = [
        Attempt(timezone.localtime(at), Method(method), outcome)
        for at, method, outcome in ContactAttempt.objects.filter(line=line)
        .order_by("at", "id")
        .values_list("at", "method", "outcome")
    ]
    answers = [
        OwnerAnswer(Answer(answer), day, name, document_id is not None)
        for answer, day, name, document_id in Consent.objects.filter(line=line)
        .order_by("answered_on", "id")
        .values_list("answer", "answered_on", "given_by", "document_id")
    ]
    return consent_standing(attempts, answers, ConsentRules.on(rules_in_force(), as_of), as_of)
