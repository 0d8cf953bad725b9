"""What a crew may see of the people at a place, and no more.

A crew sees whether the owner has agreed, in what languages and capacities people can be asked,
the appointments, and its own company's attempts. It sees no name, telephone number, address of
e-mail or signed paper, nor what others wrote.
"""

import hashlib
import json
from datetime import date

from services_inventory.models import ServiceLine

from ..domain.people import LANGUAGES, Capacity
from ..models import Consent, Contractor
from .access import consent_state
from .together import rows_of

SHOWN = 20


def access_of(line: ServiceLine, contractor: Contractor, as_of: date) -> dict:
    """Return what a contractor's people may see of getting in at a place."""
    standing = consent_state(line, as_of)
    last = _last_answer(line)
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
        "appointments": _appointments(line, contractor),
        "own_attempts": _attempts(line, contractor),
    }
    return shown | {"version": _version(line, last)}


def access_version(line: ServiceLine) -> str:
    """Return a digest of what the owner said last: it changes with every answer."""
    return _version(line, _last_answer(line))


def _last_answer(line: ServiceLine) -> Consent | None:
    answers = rows_of(line, "consents")
    return max(answers, key=lambda row: (row.answered_on, row.pk), default=None)


def _version(line: ServiceLine, last: Consent | None) -> str:
    said = [line.pk, last.pk if last else None]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:20]


def _people(line: ServiceLine) -> list[dict]:
    """Return capacity and language of each, without who they are."""
    rows = [row for row in rows_of(line, "people") if row.left_on is None]
    rows.sort(key=lambda row: row.capacity)
    pairs = dict.fromkeys((row.capacity, row.language) for row in rows)
    return [
        {
            "capacity": capacity,
            "capacity_label": Capacity(capacity).label,
            "language": language,
            "language_name": LANGUAGES.get(language, ""),
        }
        for capacity, language in pairs
    ]


def _appointments(line: ServiceLine, contractor: Contractor | None):
    """Return the latest first: all of them, or what a contractor's people may see."""
    rows = rows_of(line, "appointments")
    shown = [row for row in rows if not contractor or row.contractor_id in (contractor.pk, None)]
    return sorted(shown, key=lambda row: (row.starts_at, row.pk), reverse=True)[:SHOWN]


def _attempts(line: ServiceLine, contractor: Contractor | None):
    """Return the latest first: all of them, or a contractor's own."""
    rows = rows_of(line, "contact_attempts")
    own = [row for row in rows if not contractor or row.contractor_id == contractor.pk]
    return sorted(own, key=lambda row: (row.at, row.pk), reverse=True)[:SHOWN]


def access_page(line: ServiceLine, company: Contractor | None) -> dict:
    """Return what an order's page shows of getting in: the utility sees all, a crew what it may."""
    answers = sorted(rows_of(line, "consents"), key=lambda row: row.answered_on)
    people = [row for row in rows_of(line, "people") if row.left_on is None]
    return {
        "attempts": _attempts(line, company),
        "answers": answers[:-11:-1],
        "people": _people(line) if company else sorted(people, key=lambda row: row.capacity),
        "appointments": _appointments(line, company),
        "names_shown": company is None,
    }
