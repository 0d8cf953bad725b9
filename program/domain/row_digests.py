"""Digests of single rows, each with a salt of its own, packed in blocks.

They tell later whether a row is as it was without telling what stood in it: a salt goes with its
digest, and what is salted cannot be found again by trying every telephone number.
"""

import hashlib
import secrets
from collections.abc import Collection, Mapping
from struct import Struct

ROWS_IN_A_BLOCK = 500
_ENTRY = Struct(">q8s12s")

Digests = dict[int, tuple[bytes, bytes]]


def packed(digests: Digests) -> bytes:
    """Return the digests of a block (id: salt and digest) as bytes, in the order of ids."""
    return b"".join(_ENTRY.pack(pk, *said) for pk, said in sorted(digests.items()))


def unpacked(content: bytes) -> Digests:
    """Return what `packed` wrote."""
    return {pk: (salt, digest) for pk, salt, digest in _ENTRY.iter_unpack(content)}


def digest_of_row(salt: bytes, text: str) -> bytes:
    """Return twelve bytes that stand for a row's text under a salt."""
    data = text.encode("utf-8", "surrogatepass")
    return hashlib.blake2b(data, salt=salt, digest_size=12).digest()


def taken(was: Digests, texts: Mapping[int, str], written: Collection[int] | None) -> Digests:
    """Return the digests of a block anew.

    was : the digests so far
    texts : the rows that there are now, by id
    written : ids of rows that the program wrote since; None for all

    A row that was not written keeps its digest, whatever stands in it now: if it was altered, or
    is gone, that stays to be seen.
    """
    if written is None:
        was = {}
    kept = {pk: said for pk, said in was.items() if pk not in (written or ())}
    for pk in texts.keys() - kept.keys():
        salt = secrets.token_bytes(8)
        kept[pk] = (salt, digest_of_row(salt, texts[pk]))
    return kept


def differing(digests: Digests, texts: Mapping[int, str]) -> list[int]:
    """Return the ids of rows that are gone, or are not as their digests say."""
    return sorted(
        pk
        for pk, (salt, digest) in digests.items()
        if pk not in texts or digest_of_row(salt, texts[pk]) != digest
    )
