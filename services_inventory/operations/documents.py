"""Keeping documents: by content, after a look at what they are."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import PurePath

from django.core.files.base import ContentFile

from services_inventory.refused import Refused

from ..models import Document

# First bytes -> content type. A file that is none of these is not kept.
SIGNATURES = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"%PDF-", "application/pdf"),
    (b"PK\x03\x04", "application/zip"),
)
TEXT = "text/csv"


class DocumentRefused(Refused):
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


@dataclass(frozen=True)
class NewFile:
    """A file to be kept: what is in it, what it was called, what kind of document it is."""

    content: bytes
    name: str
    kind: str

    @property
    def shown(self) -> str:
        """Its name without folders, as far as one is kept."""
        return PurePath(self.name.replace("\\", "/")).name[:255] or "unnamed"

    @cached_property
    def sha256(self) -> str:
        """The digest that it is known by."""
        return hashlib.sha256(self.content).hexdigest()


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
    DocumentRefused: the file is empty, larger than `limit_bytes`, or its content is not one of
        `allowed`.
    """
    new = NewFile(file.read(limit_bytes + 1), name, kind)
    (document,) = documents_store(
        files=[new], by=by, at=at, allowed=allowed, limit_bytes=limit_bytes, owner_key=owner_key
    )
    return document


def documents_store(
    *,
    files: Sequence[NewFile],
    by: str,
    at: datetime,
    allowed: tuple[str, ...],
    limit_bytes: int,
    owner_key: str = "",
) -> list[Document]:
    """Keep files of one owner as `document_store` keeps one, with one look and one write for all.

    Raises
    ------
    DocumentRefused: one of them cannot be kept; none is.
    """
    kinds = [_checked(new, allowed, limit_bytes) for new in files]
    digests = {new.sha256 for new in files}
    rows = Document.objects.filter(sha256__in=digests, owner_key=owner_key)
    known = {(row.sha256, row.kind): row for row in rows.order_by("-id")}
    made = {}
    for new, content_type in zip(files, kinds, strict=True):
        key = new.sha256, new.kind
        if key not in known and key not in made:
            made[key] = Document(
                name=new.shown,
                kind=new.kind,
                content_type=content_type,
                sha256=new.sha256,
                bytes=len(new.content),
                owner_key=owner_key,
                uploaded_by=by,
                uploaded_at=at,
            )
            made[key].file.save(new.sha256[:24], ContentFile(new.content), save=False)
    Document.objects.bulk_create(made.values())
    known |= made
    return [known[new.sha256, new.kind] for new in files]


def _checked(new: NewFile, allowed: tuple[str, ...], limit_bytes: int) -> str:
    """Return the content type of a file that may be kept."""
    if not new.content:
        raise DocumentRefused(f"{new.shown} is empty. Choose the file again.")
    if len(new.content) > limit_bytes:
        raise DocumentRefused(
            f"{new.shown} is larger than {limit_bytes // 1024**2} MB. Send a smaller file."
        )
    content_type = content_type_of(new.content[:4096])
    if content_type not in allowed:
        raise DocumentRefused(
            f"{new.shown} is not one of the kinds that can be kept here "
            f"({', '.join(sorted(allowed))}), whatever its name says."
        )
    return content_type
