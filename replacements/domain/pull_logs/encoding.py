"""From the bytes of a file to its text, refusing what only pretends to be a log."""

import codecs
import os
from pathlib import Path
from typing import BinaryIO

from .log import PullLogError

SIZE_LIMIT_BYTES = 512 * 2**20
_CHUNK = 2**20

_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet or zip file"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet file"),
    (b"\x1f\x8b", "a compressed file"),
    (b"%PDF", "a PDF file"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROL = frozenset(range(32)) - {9, 10, 12, 13}


def content_of(file: str | os.PathLike | BinaryIO, size_limit_bytes: int) -> bytes:
    """Return the bytes of a file, its size checked before it is read.

    Raises
    ------
    PullLogError: the file is larger than the limit, cannot be opened, or is not open in binary.
    """
    if isinstance(file, (str, os.PathLike)):
        path = Path(file)
        try:
            _refuse_size(path.stat().st_size, size_limit_bytes)
            return path.read_bytes()
        except OSError as error:
            raise PullLogError(f"{path.name} cannot be opened: {error.strerror}.") from error
    parts, size = [], 0
    while part := file.read(_CHUNK):
        if not isinstance(part, bytes):
            raise PullLogError("Open the log in binary mode.")
        size += len(part)
        _refuse_size(size, size_limit_bytes)
        parts.append(part)
    return b"".join(parts)


def _refuse_size(size: int, limit: int) -> None:
    if size > limit:
        raise PullLogError(
            f"The file is larger than {limit / 2**20:,.0f} MB, too big for the log of one pull. "
            "Export only this pull."
        )


def text_of(content: bytes) -> str:
    """Return the text, its lines ending in a plain newline.

    Raises
    ------
    PullLogError: the file is empty, is of another kind, or is not text.
    """
    if not content.strip(b" \t\r\n\0"):
        raise PullLogError("The file is empty.")
    _refuse_other_kinds(content)
    text = _decoded(content)
    if not text.replace("\ufeff", " ").replace("\0", " ").strip():
        raise PullLogError("The file is empty.")
    _refuse_binary(text)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.lstrip("\ufeff")


def _refuse_other_kinds(content: bytes) -> None:
    kind = next((name for start, name in _SIGNATURES if content.startswith(start)), None)
    if kind is None and content[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(
        (b"<!doctype", b"<html", b"<?xml", b"{\\rtf")
    ):
        kind = "a web page or document"
    if kind:
        raise PullLogError(
            f"This is {kind}, whatever its name says. Save the log as CSV and give that file."
        )


def _decoded(content: bytes) -> str:
    named = next((name for bom, name in _BOMS if content.startswith(bom)), None)
    head = content[:4096]
    half = max(1, len(head) // 2)
    if named is None and head[1::2].count(0) > 0.7 * half:
        named = "utf-16-le"
    elif named is None and head[0::2].count(0) > 0.7 * half:
        named = "utf-16-be"
    for encoding in [named] if named else ["utf-8", "cp1252"]:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise PullLogError(
        "The file is not text in any encoding that loggers use (UTF-8, UTF-16, Windows-1252). "
        "Export the log as CSV again."
    )


def _refuse_binary(text: str) -> None:
    head = text[:65536]
    odd = sum(1 for char in head.replace("\0", "") if ord(char) in _CONTROL)
    if odd > 0.02 * len(head):
        raise PullLogError("The file is not a text file. Export the log as CSV.")
