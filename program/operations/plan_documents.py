"""The replacement plan document: words by version, frozen PDFs that never change, statements."""

import hashlib
import os
from datetime import date, datetime
from io import BytesIO
from pathlib import Path, PurePath

from django.conf import settings
from django.db import IntegrityError, transaction

from program.models import PlanDocument, PlanStatement, PlanText
from program.plan_document.elements import blocking, element_of
from program.queries.plan_document import plan_document_facts
from services_inventory.kept_files import KeptFile, hand_over, sha256_of
from services_inventory.refused import Refused

TEXT_MAX = 60_000


def plan_text_write(
    *,
    element: str,
    text: str,
    taken_from: str,
    by: str,
    at: datetime,
    based_on: int | None = None,
) -> PlanText:
    """Keep what staff wrote on one element as its next version; an empty text takes it back.

    based_on : the version the words were started from; a later one saved meanwhile refuses them.

    Raises
    ------
    Refused: there is no such element, the words cannot be printed, nothing differs, or
        somebody saved meanwhile.
    """
    if element_of(element) is None:
        raise Refused(f"A plan has no element called '{element}'.")
    text, taken_from = text.replace("\r\n", "\n").strip(), taken_from.strip()
    _printable(text + taken_from)
    try:
        with transaction.atomic():
            version = _next_version(element, text, taken_from, based_on)
            return PlanText.objects.create(
                element=element,
                version=version,
                text=text,
                taken_from=taken_from,
                written_by=by,
                written_at=at,
            )
    except IntegrityError as error:
        raise Refused(_MEANWHILE) from error


def plan_text_restore(*, version: PlanText, by: str, at: datetime) -> PlanText:
    """Write an earlier version's words again as the latest.

    Raises
    ------
    Refused: they are the latest as they stand.
    """
    return plan_text_write(
        element=version.element, text=version.text, taken_from=version.taken_from, by=by, at=at
    )


def plan_document_print(*, as_of: date, at: datetime) -> bytes:
    """Return the document as it would be now, marked as not frozen; nothing is kept."""
    from program.plan_document.pdf import plan_document_pdf

    return plan_document_pdf(plan_document_facts(as_of, at), None, _last_sha256())


def plan_document_freeze(
    *, as_of: date, what_changed: str, by: str, at: datetime, is_draft_meant: bool = False
) -> PlanDocument:
    """Freeze the document: the PDF with its SHA-256, and everything printed in it.

    Raises
    ------
    Refused: something is missing and nobody said that a draft is meant, or another
        document was frozen at the same moment.
    """
    from program.plan_document.pdf import plan_document_pdf

    facts = plan_document_facts(as_of, at)
    waits_for = blocking(facts["missing"])
    if waits_for and not is_draft_meant:
        raise Refused(
            f"Missing: {waits_for}. Supply them, or say that a draft is "
            "meant: it is then marked as one on every page."
        )
    last = PlanDocument.objects.order_by("-number").first()
    number, previous = (last.number + 1, last.sha256) if last else (1, "")
    content = plan_document_pdf(facts, number, previous)
    try:
        with transaction.atomic():
            document = PlanDocument.objects.create(
                number=number,
                as_of=as_of,
                facts=facts,
                missing=facts["missing"],
                what_changed=what_changed.strip(),
                path=str(_path(number).relative_to(settings.DATA_DIR)),
                sha256=hashlib.sha256(content).hexdigest(),
                bytes=len(content),
                pages=_pages(content),
                previous_sha256=previous,
                frozen_by=by,
                frozen_at=at,
            )
            _put(_path(number), content)
    except IntegrityError as error:
        raise Refused(
            "Another document was frozen at the same moment. Look at the list, then try again."
        ) from error
    return document


def plan_document_check(document: PlanDocument) -> str:
    """Return a sentence on what is wrong with a frozen document, empty if nothing is.

    The file must be the one that was frozen, and the facts kept must give it again to the byte.
    """
    from program.plan_document.pdf import plan_document_pdf

    name = PurePath(document.path).name
    try:
        if sha256_of(KeptFile(document.path)) != document.sha256:
            return f"{name} is not the file that was frozen."
    except FileNotFoundError:
        return f"{name} is missing."
    again = plan_document_pdf(document.facts, document.number, document.previous_sha256)
    if hashlib.sha256(again).hexdigest() != document.sha256:
        return f"{name} set again from the facts kept with it gives another file."
    return ""


def plan_document_publish(*, document: PlanDocument, by: str, at: datetime) -> PlanDocument:
    """Make a frozen document the one that the public reads.

    Raises
    ------
    Refused: it is a draft, it is public already, or its file is not what was frozen.
    """
    if document.is_draft:
        raise Refused("A draft is not published. Supply what is missing and freeze anew.")
    if document.published_at:
        raise Refused("This document is public already.")
    if wrong := plan_document_check(document):
        raise Refused(wrong)
    document.published_by, document.published_at = by, at
    document.save(update_fields=["published_by", "published_at"])
    return document


def plan_statement_make(
    *, document: PlanDocument, year: int, says: str, name: str, title: str, statement: str,
    by: str, at: datetime,
) -> PlanStatement:  # fmt: skip
    """Keep what was certified of the plan for a year: updated, or unchanged.

    Raises
    ------
    Refused: something is missing, it is a draft, or "unchanged" is said of the first
        document or of one frozen in that year.
    """
    if not (name.strip() and title.strip() and statement.strip()):
        raise Refused("A statement needs a name, a title and its words.")
    if document.is_draft:
        raise Refused("Nothing is certified of a draft. Supply what is missing first.")
    if says == PlanStatement.Says.UNCHANGED and document.frozen_at.year > year:
        raise Refused(
            f"Document {document.number} was frozen after {year}, so it is an update for that year."
        )
    return PlanStatement.objects.create(
        document=document, year=year, says=says, name=name.strip(), title=title.strip(),
        statement=statement.strip(), stated_by=by, stated_at=at,
    )  # fmt: skip


_MEANWHILE = (
    "Somebody saved other words on this element meanwhile. Open the page in a second window, bring "
    "both together, and save."
)


def _printable(text: str) -> None:
    from program.paper import unprintable

    if len(text) > TEXT_MAX:
        raise Refused(f"The text has {len(text):,} characters; {TEXT_MAX:,} fit.")
    if gone := unprintable(text):
        shown = ", ".join(f"{c} (U+{ord(c):04X})" for c in gone[:5])
        raise Refused(
            f"The document's font has no {shown}. Replace what is named; the letters of Western "
            "Europe, digits and the usual signs can be printed."
        )


def _next_version(element: str, text: str, taken_from: str, based_on: int | None) -> int:
    last = PlanText.objects.filter(element=element).order_by("-version").first()
    if last is None and not text:
        raise Refused("Write the utility's words first.")
    if last and (last.text, last.taken_from) == (text, taken_from):
        raise Refused(f"Nothing differs from version {last.version}.")
    if based_on is not None and based_on != (last.version if last else 0):
        raise Refused(_MEANWHILE)
    return last.version + 1 if last else 1


def _last_sha256() -> str:
    found = PlanDocument.objects.order_by("-number").values_list("sha256", flat=True).first()
    return found or ""


def _path(number: int) -> Path:
    return Path(settings.DATA_DIR) / "plan_documents" / f"replacement-plan-{number}.pdf"


def _put(path: Path, content: bytes) -> None:
    """Write the file whole or not at all, and let nobody write to it again."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    unfinished.write_bytes(content)
    unfinished.chmod(0o444)
    os.replace(unfinished, path)
    hand_over(path)


def _pages(content: bytes) -> int:
    from pypdf import PdfReader

    return len(PdfReader(BytesIO(content)).pages)
