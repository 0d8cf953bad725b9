"""Contradicting evidence that waits for a person, and its sides."""

from django.db.models import QuerySet

from ..domain.evidence import Basis
from ..models import Conflict, Evidence
from .history import material_words
from .keyset import Order, Segment

CONFLICTS = Order("opened", "opening", (Segment(("opened_at", "id")),))


def open_conflicts() -> QuerySet:
    """Return the conflicts nobody has decided, with their lines."""
    return Conflict.objects.filter(resolved_at__isnull=True).select_related(
        "line__premise", "line__neighborhood"
    )


def conflict_for_page(pk: int) -> Conflict | None:
    """Return one conflict with its line, or None."""
    return Conflict.objects.select_related("line__premise", "resolution").filter(pk=pk).first()


def sides_of(conflict: Conflict) -> list[dict]:
    """Return the evidence of a conflict by the material it names, most often seen first.

    Evidence that names no material but dates or sizes the pipe speaks for non-lead.
    """
    rows = Evidence.objects.filter(pk__in=conflict.evidence_ids).select_related("document", "batch")
    sides: dict[str, list] = {}
    for row in rows.order_by("recorded_at", "id"):
        named = row.material if row.material not in ("", "UNKNOWN") else "NON_LEAD"
        sides.setdefault(named, []).append({"row": row, "basis": Basis(row.basis).label})
    return [
        {"material": code, "words": material_words(conflict.portion, code), "entries": entries}
        for code, entries in sides.items()
    ]
