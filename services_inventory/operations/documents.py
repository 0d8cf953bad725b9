"""Keeping documents: by content, after a look at what they are."""

import hashlib
from datetime import datetime
from pathlib import PurePath

from django.core.files.base import ContentFile

from ..models import Document

# First bytes -> content type. A file that is none of these is not kept.
SIGNATURES = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"%PDF-", "application/pdf"),
    (b"PK\x03\x04", "application/zip"),
)
TEXT = "text/csv"


class DocumentRefused(Exception):
    """The file is too large or is not what may be kept; the message says so."""


def content_type_of(head: bytes) -> str | None:
    """Return the content type that the first bytes show; text without NUL counts as CSV."""
    for signature, content_type in SIGNATURES:
        if head.startswith(signature):
            return content_type
    if head[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1"):
        return "image/heic"
    lowered = head.lstrip().lower()
    if lowered.startswith((b"<", b"{\\rtf")) or (b"\x00" in head and head[:2] not in _UTF16):
        return None
    return TEXT


_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def document_store(
    *,
    file,
    name: str,
    kind: str,
    by: str,
    at: datetime,
    allowed: tuple[str, ...],
    limit_bytes: int,
    owner_key: str = "",
) -> Document:
    """Keep a file once by content; a second copy from the same owner returns the first.

    Raises
    ------
    DocumentRefused
        The file is empty, larger than `limit_bytes`, or its content is not one of `allowed`.
    """
    content = file.read(limit_bytes + 1)
    shown = PurePath(name.replace("\\", "/")).name[:255] or "unnamed"
    if not content:
        raise DocumentRefused(f"{shown} is empty. Choose the file again.")
    if len(content) > limit_bytes:
        raise DocumentRefused(
            f"{shown} is larger than {limit_bytes // 1024**2} MB. Send a smaller file."
        )
    content_type = content_type_of(content[:4096])
    if content_type not in allowed:
        raise DocumentRefused(
            f"{shown} is not one of the kinds that can be kept here "
            f"({', '.join(sorted(allowed))}), whatever its name says."
        )
    digest = hashlib.sha256(content).hexdigest()
    found = Document.objects.filter(sha256=digest, owner_key=owner_key, kind=kind).first()
    if found:
        return found
    document = Document(
        name=shown,
        kind=kind,
        content_type=content_type,
        sha256=digest,
        bytes=len(content),
        owner_key=owner_key,
        uploaded_by=by,
        uploaded_at=at,
    )
    document.file.save(digest[:24], ContentFile(content), save=False)
    document.save()
    return document
