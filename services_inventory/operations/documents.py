"""Keeping documents: by content, after a look at what they are."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path, PurePath

from django.core.files.base import ContentFile, File

from services_inventory.refused import Refused

from ..domain.content_types import content_type_of
from ..models import Document

_HEAD_BYTES = 4096


class DocumentRefused(Refused):
    """The file is too large or is not what may be kept; the message says so."""


@dataclass(frozen=True)
class NewFile:
    """A file to be kept: what is in it, what it was called, what kind of document it is.

    content : a path is of a file beside the data, which is moved from there
    digest : its SHA-256, where whoever brings it has it
    """

    content: bytes | Path
    name: str
    kind: str
    digest: str = ""

    @property
    def shown(self) -> str:
        """Its name without folders, as far as one is kept."""
        return PurePath(self.name.replace("\\", "/")).name[:255] or "unnamed"

    @cached_property
    def sha256(self) -> str:
        """The digest that it is known by."""
        if self.digest:
            return self.digest
        with self.opened() as file:
            return hashlib.sha256(file.read()).hexdigest()

    @cached_property
    def size_bytes(self) -> int:
        """How many bytes are in it."""
        if isinstance(self.content, Path):
            return self.content.stat().st_size
        return len(self.content)

    def opened(self) -> File:
        """Return it as a storage keeps it."""
        if isinstance(self.content, Path):
            return _Moved(self.content.open("rb"), str(self.content))
        return ContentFile(self.content)


class _Moved(File):
    """A file that a storage of this machine moves to its place, instead of copying it."""

    def temporary_file_path(self) -> str:
        return str(self.name)


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
                bytes=new.size_bytes,
                owner_key=owner_key,
                uploaded_by=by,
                uploaded_at=at,
            )
            with new.opened() as content:
                made[key].file.save(new.sha256[:24], content, save=False)
    Document.objects.bulk_create(made.values())
    known |= made
    return [known[new.sha256, new.kind] for new in files]


def _checked(new: NewFile, allowed: tuple[str, ...], limit_bytes: int) -> str:
    """Return the content type of a file that may be kept."""
    if not new.size_bytes:
        raise DocumentRefused(f"{new.shown} is empty. Choose the file again.")
    if new.size_bytes > limit_bytes:
        raise DocumentRefused(
            f"{new.shown} is larger than {limit_bytes // 1024**2} MB. Send a smaller file."
        )
    with new.opened() as file:
        content_type = content_type_of(file.read(_HEAD_BYTES))
    if content_type not in allowed:
        raise DocumentRefused(
            f"{new.shown} is not one of the kinds that can be kept here "
            f"({', '.join(sorted(allowed))}), whatever its name says."
        )
    return content_type
