"""What a crew may see of the people at a place, and no more.

A crew sees whether the owner has agreed, in what languages and capacities people can be asked,
the appointments, and its own company's attempts. It sees no name, telephone number, address of
e-mail or signed paper, nor what others wrote.
"""

import hashlib
import json
from datetime import date

from django.db.models import Q

from services_inventory.models import ServiceLine

from ..domain.people import LANGUAGES, Capacity
from ..models import Consent, Contractor, Person
from .access import consent_state

SHOWN = 20


def access_of(line: ServiceLine, contractor: Contractor, as_of: date) -> dict:
    """Return what a contractor's people may see of getting in at a place."""
    standing = consent_state(line, as_of)
    answers = Consent.objects.filter(line=line).order_by("-answered_on", "-id")
    last = answers.first()
    shown = {
        "state": standing.state.value,
        "may_start": standing.may_start,
        "attempts_counted": standing.effort.attempts,
        "methods_counted": standing.effort.methods,
        "missing": standing.effort.missing,
        "answered_on": last.answered_on if last else None,
        "answer": last.answer if last else "",
        "answer_capacity": last.capacity if last else "",
        "people": _people(line),
        "appointments": list(_appointments(line, contractor)),
        "own_attempts": list(_own_attempts(line, contractor)),
    }
    return shown | {"version": _version(line, last)}


def access_version(line: ServiceLine) -> str:
    """Return a digest of what the owner said last: it changes with every answer."""
    return _version(line, Consent.objects.filter(line=line).order_by("-answered_on", "-id").first())


def _version(line: ServiceLine, last: Consent | None) -> str:
    said = [line.pk, last.pk if last else None]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:20]


def _people(line: ServiceLine) -> list[dict]:
    """Return capacity and language of each, without who they are."""
    rows = Person.objects.filter(line=line, left_on=None).order_by("capacity", "id")
    pairs = dict.fromkeys(rows.values_list("capacity", "language"))
    return [
        {
            "capacity": capacity,
            "capacity_label": Capacity(capacity).label,
            "language": language,
            "language_name": LANGUAGES.get(language, ""),
        }
        for capacity, language in pairs
    ]


def _appointments(line: ServiceLine, contractor: Contractor):
    rows = line.appointments.filter(Q(contractor=contractor) | Q(contractor=None))
    return rows.order_by("-starts_at", "-id")[:SHOWN]


def _own_attempts(line: ServiceLine, contractor: Contractor):
    return line.contact_attempts.filter(contractor=contractor).order_by("-at", "-id")[:SHOWN]


def access_page(line: ServiceLine, company: Contractor | None) -> dict:
    """Return what an order's page shows of getting in: the utility sees all, a crew what it may."""
    attempts = line.contact_attempts.order_by("-at")
    people = Person.objects.filter(line=line, left_on=None).order_by("capacity", "id")
    if company is None:
        appointments = line.appointments.order_by("-starts_at", "-id")[:SHOWN]
    else:
        attempts, people = attempts.filter(contractor=company), _people(line)
        appointments = _appointments(line, company)
    return {
        "attempts": attempts[:SHOWN],
        "answers": line.consents.order_by("-answered_on", "-id")[:10],
        "people": people,
        "appointments": appointments,
        "names_shown": company is None,
    }
