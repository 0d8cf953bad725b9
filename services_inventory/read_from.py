"""From which database the record is read: the primary, or for one request its replica.

Nothing is read from a replica unless somebody says so around it (`program/replicas.py`).
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.db import DEFAULT_DB_ALIAS, connections
from django.utils.connection import ConnectionProxy

PRIMARY, REPLICA = DEFAULT_DB_ALIAS, "replica"
_ALIAS: ContextVar[str] = ContextVar("which database is read", default=PRIMARY)
reads_from, read_from = _ALIAS.get, _ALIAS.set


@contextmanager
def reading_from(alias: str) -> Iterator[None]:
    """Read this database until the block ends, unless `read_from` names another within."""
    token = _ALIAS.set(alias)
    try:
        yield
    finally:
        _ALIAS.reset(token)


def pieces_from(alias: str, pieces: Iterable) -> Iterator:
    """Yield what is read piece by piece after its request is over, each piece by one database."""
    pieces = iter(pieces)
    while True:
        with reading_from(alias):
            piece = next(pieces, None)
        if piece is None:
            return
        yield piece


class _Read(ConnectionProxy):
    """Django's `connection`, at the database that is read."""

    _alias = property(lambda self: reads_from())


connection = _Read(connections, PRIMARY)
