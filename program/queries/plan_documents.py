"""The plan document's elements, versions and frozen documents as their pages show them."""

from datetime import date, datetime

from django.utils.timezone import localdate

from program.models import PlanDocument, PlanStatement, PlanText
from program.plan_document.elements import blocking
from program.queries.plan_document import plan_document_facts
from services_inventory.domain.days import day_told


def plan_document_board(as_of: date, known_at: datetime) -> dict:
    """Return what the document would say now, element by element, with what is missing."""
    facts = plan_document_facts(as_of, known_at)
    sections = facts["sections"]
    return {
        "sections": sections,
        "waits_for": blocking(facts["missing"]),
        "written": sum(section["text"] is not None for section in sections),
        "needed": sum(section["applies"] for section in sections),
        "documents": plan_documents(),
        "statements": list(PlanStatement.objects.select_related("document").order_by("-id")[:20]),
    }


def plan_documents() -> list[PlanDocument]:
    """Return the frozen documents, the latest first."""
    return list(PlanDocument.objects.defer("facts").order_by("-number"))


def text_versions(element: str) -> list[PlanText]:
    """Return what staff wrote on an element, the latest first."""
    return list(PlanText.objects.filter(element=element).order_by("-version"))


def published_document() -> PlanDocument | None:
    """Return the document that the public reads: the latest one published."""
    published = PlanDocument.objects.filter(published_at__isnull=False)
    return published.order_by("-number").first()


def statement_for(year: int, as_of: date) -> str:
    """Return what the annual submission says of the plan for a year, empty where nothing is.

    A statement for the year goes first; else the latest document that is no draft, of a day up
    to the year's last: a later one says nothing of that year.
    """
    made = PlanStatement.objects.select_related("document").filter(year=year)
    last = made.order_by("-id").first()
    if last is not None:
        return (
            f"{last.get_says_display()} (document {last.document.number} of "
            f"{day_told(last.document.as_of)}, SHA-256 {last.document.sha256}); certified by "
            f"{last.name}, "
            f"{last.title}, on {day_told(localdate(last.stated_at))}."
        )
    documents = PlanDocument.objects.defer("facts").filter(as_of__lte=as_of).order_by("-number")
    document = next((one for one in documents if not one.is_draft), None)
    if document is None:
        return ""
    return (
        f"Replacement plan document {document.number} of {day_told(document.as_of)}, SHA-256 "
        f"{document.sha256}; no statement for {year} is made."
    )
