"""What a file is by its first bytes, whatever its name says."""

SIGNATURES = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"%PDF-", "application/pdf"),
    (b"PK\x03\x04", "application/zip"),
)
TEXT = "text/csv"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def content_type_of(head: bytes) -> str | None:
    """Return the content type that the first bytes show; text without NUL counts as CSV.

    Examples
    --------
    >>> content_type_of(b"%PDF-1.7")
    'application/pdf'
    >>> content_type_of(b"<svg>") is None
    True
    """
    for signature, content_type in SIGNATURES:
        if head.startswith(signature):
            return content_type
    if head[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1"):
        return "image/heic"
    lowered = head.lstrip().lower()
    if lowered.startswith((b"<", b"{\\rtf")) or (b"\x00" in head and head[:2] not in _UTF16):
        return None
    return TEXT
