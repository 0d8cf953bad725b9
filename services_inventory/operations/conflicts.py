"""Deciding between pieces of evidence that contradict each other: by a person, with a reason."""

from datetime import datetime

from django.db import transaction

from ..models import Conflict, Evidence
from .evidence import EvidenceRefused, evidence_record


def conflict_resolve(
    *, conflict: Conflict, material: str, by: str, recorded_at: datetime, reason: str
) -> Evidence:
    """Let the evidence for one material stand; the decision is itself a row of evidence.

    Raises
    ------
    EvidenceRefused
        No reason is given, the conflict is closed, or no evidence shows that material.
    """
    if not reason.strip():
        raise EvidenceRefused("Give the reason for the decision.")
    if conflict.resolved_at is not None:
        raise EvidenceRefused("This conflict was decided already.")
    with transaction.atomic():
        decision = evidence_record(
            line=conflict.line,
            portion=conflict.portion,
            basis="NOT_STATED",
            resolves=material,
            note=reason.strip(),
            by=by,
            recorded_at=recorded_at,
        )
        conflict.refresh_from_db()
        if conflict.resolved_at is None:
            raise EvidenceRefused(
                "No evidence shows that material, so the decision would change nothing. "
                "Record the evidence first."
            )
        conflict.resolution = decision
        conflict.resolved_by = by
        conflict.reason = reason.strip()
        conflict.save()
    return decision
