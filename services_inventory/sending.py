"""Sending tables and kept files: a file as it was kept, or not at all."""

from collections.abc import Iterable, Sequence
from hashlib import file_digest
from pathlib import PurePath

from django.http import FileResponse, Http404, HttpResponse, StreamingHttpResponse

from services_inventory.domain.formulas import csv_pieces, csv_text
from services_inventory.kept_files import Kept
from services_inventory.models import Document


class NotAsKept(Http404):
    """A kept file is gone or was altered; the message says so and what to do."""


def file_as_kept(kept: Kept, sha256: str, name: str = "", **how) -> FileResponse:
    """Return a file whose content is what its row says, as a download unless told otherwise.

    Raises
    ------
    NotAsKept: it is missing, or its SHA-256 is another.
    """
    name = name or PurePath(str(kept.name)).name
    try:
        file = kept.open("rb")  # closed by the response
    except OSError as error:
        raise NotAsKept(
            f"The file {name} is on record but is missing from the disk. Ask whoever runs the "
            "program to put it back from a back-up."
        ) from error
    if file_digest(file, "sha256").hexdigest() != sha256:
        file.close()
        raise NotAsKept(
            f"The file {name} is not as it was kept: somebody altered it. It is not sent. Ask "
            "whoever runs the program to put it back from a back-up."
        )
    file.seek(0)
    return FileResponse(file, **({"as_attachment": True, "filename": name} | how))


def document_sent(document: Document) -> FileResponse:
    """Return a document as a download, never as a page."""
    return FileResponse(document.file.open("rb"), as_attachment=True, filename=document.name)


def attached(content: str | bytes, name: str, content_type: str, *, inline=False) -> HttpResponse:
    """Return a text or a file's bytes as a download, or to be read in the browser."""
    how = "inline" if inline else "attachment"
    kind = f"{content_type}; charset=utf-8" if isinstance(content, str) else content_type
    named = {"Content-Disposition": f'{how}; filename="{name}"'}
    return HttpResponse(content, content_type=kind, headers=named)


def pdf_shown(content: bytes, name: str) -> HttpResponse:
    """Return a PDF that the browser shows."""
    return attached(content, name, "application/pdf", inline=True)


def csv_answer(name: str, header: Sequence[str], rows: Iterable[Sequence]) -> HttpResponse:
    """Return a table as a download; no text of it is run by a spreadsheet."""
    return attached(csv_text(header, rows), f"{name}.csv", "text/csv")


def csv_streamed(
    name: str, header: Sequence[str], rows: Iterable[Sequence]
) -> StreamingHttpResponse:
    """Return a long table as a download that is sent while it is read."""
    answer = StreamingHttpResponse(csv_pieces(header, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer
