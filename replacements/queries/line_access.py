"""What a page tells of getting in at one line: attempts, answers and owners, in order of days."""

from datetime import date

from django.utils.timezone import localtime

from services_inventory.models import ServiceLine
from services_inventory.policy import rules_in_force

from ..domain.consent import ConsentRules, owner_change_clocks
from ..models import OwnerChange
from .access import consent_state
from .owners import owner_since


def access_story(line: ServiceLine, as_of: date) -> dict:
    """Return where consent stands, since when the owner has it, and all that was recorded.

    What was tried or said before the present owner is told, but does not count.
    """
    since = owner_since(line, as_of)
    rows = [*_attempts(line), *_answers(line)]
    for row in rows:
        row["counts"] = since is None or row["day"] >= since
    return {
        "consent": consent_state(line, as_of),
        "since": since,
        "clocks": since and owner_change_clocks(since, ConsentRules.on(rules_in_force(), since)),
        "rows": sorted(rows, key=lambda row: row["day"], reverse=True),
        "changes": OwnerChange.objects.filter(premise_id=line.premise_id).order_by(
            "-changed_on", "-id"
        ),
    }


def _attempts(line: ServiceLine) -> list[dict]:
    return [
        {
            "day": localtime(row.at).date(),
            "what": f"{row.get_method_display()} to the {row.addressed_to.lower()}",
            "more": row.outcome,
            "by": row.recorded_by,
        }
        for row in line.contact_attempts.all()
    ]


def _answers(line: ServiceLine) -> list[dict]:
    return [
        {
            "day": row.answered_on,
            "what": f"Consent {row.get_answer_display()}",
            "more": row.note,
            "by": row.recorded_by,
            "document": row.document_id,
        }
        for row in line.consents.all()
    ]
