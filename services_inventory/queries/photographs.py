"""Photographs and scans that show a line."""

from django.db.models import Count, Q

from ..models import LineDocument, ServiceLine


def documents_of(line: ServiceLine) -> list[LineDocument]:
    """Return what was attached to a line and not taken back, each with how many lines it is of."""
    also = Count(
        "document__of_lines__line", filter=Q(document__of_lines__batch__state="APPLIED"),
        distinct=True,
    )  # fmt: skip
    found = line.line_documents.filter(batch__state="APPLIED").select_related("document")
    return list(found.annotate(lines=also).order_by("document__name", "page", "id"))
