"""Large lists are worked on by two processes at once."""

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

FROM_LINES = 50_000  # with fewer, starting a process takes longer than it saves


@contextmanager
def pool_of_two(database: str = "") -> Iterator[ProcessPoolExecutor]:
    """Yield a pool of two processes started anew; what waits is dropped where one fails.

    With the name of a database they are made ready to read it.
    """
    ready = _reading if database else None
    pool = ProcessPoolExecutor(2, get_context("spawn"), ready, (database,) if database else ())
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _reading(database: str) -> None:
    import django  # a process that reads no record does without

    django.setup()
    from django.db import connection

    connection.settings_dict["NAME"] = database
