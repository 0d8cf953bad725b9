"""Contradicting evidence that waits for a person, and its sides."""

from django.db.models import QuerySet

from ..domain.evidence import Basis
from ..models import Conflict, Evidence, Proposal
from .history import material_words
from .keyset import Order, Segment

PICTURES = ("image/jpeg", "image/png")  # that every browser shows
CONFLICTS = Order("opened", "opening", (Segment(("opened_at", "id")),))


def open_conflicts() -> QuerySet:
    """Return the conflicts nobody has decided, with their lines."""
    return Conflict.objects.filter(resolved_at__isnull=True).select_related(
        "line__premise", "line__neighborhood"
    )


def open_proposals() -> QuerySet:
    """Return the proposed answers that wait for a second person, the longest waiting first."""
    return (
        Proposal.objects.filter(answer="", conflict__resolved_at__isnull=True)
        .select_related("conflict__line__premise")
        .order_by("proposed_at", "id")
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
    for row in rows.order_by("place", "recorded_at", "id"):
        named = row.material if row.material not in ("", "UNKNOWN") else "NON_LEAD"
        sides.setdefault(named, []).append(_entry(row))
    return [
        {
            "material": code,
            "words": material_words(conflict.portion, code),
            "entries": entries,
            "places": sorted({entry["row"].place for entry in entries} - {""}),
            "points": max(entry["row"].points_seen for entry in entries),
        }
        for code, entries in sides.items()
    ]


def _entry(row: Evidence) -> dict:
    basis = Basis(row.basis)
    shows = row.document is not None and row.document.content_type in PICTURES
    return {
        "row": row,
        "basis": basis.label,
        "seen": basis.traits.inspection,
        "picture": shows,
    }


def proposals_of(conflict: Conflict) -> list[Proposal]:
    """Return the proposed answers of a conflict, the latest first, each with its words."""
    found = list(conflict.proposals.select_related("document").order_by("-id"))
    for proposal in found:
        proposal.words = material_words(conflict.portion, proposal.material)
    return found
