"""Long work is done by two processes at once: large lists, and plans of scenarios."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from itertools import islice
from multiprocessing import get_context, parent_process
from typing import Any

FROM_LINES = 50_000  # with fewer, starting a process takes longer than it saves


@contextmanager
def pool_of_two(database: str = "") -> Iterator[ProcessPoolExecutor]:
    """Yield a pool of two processes started anew; what waits is dropped where one fails.

    With the name of a database they are made ready to read it. They end with whoever began them,
    also where that one is killed.
    """
    pool = ProcessPoolExecutor(2, get_context("spawn"), _ready, (database,))
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _ready(database: str) -> None:
    from threading import Thread

    Thread(target=_end_with_the_parent, daemon=True).start()
    if not database:
        return
    import django  # a process that reads no record does without

    django.setup()
    from django.db import connection

    connection.settings_dict["NAME"] = database


def _end_with_the_parent() -> None:
    import os

    if parent := parent_process():
        parent.join()
        os._exit(1)


def record_seen_by_others() -> str:
    """Return the database's name; "" where another process doesn't see what is in it.

    That is a database in memory, or one in whose transaction this one is.
    """
    from django.db import connection

    name = str(connection.settings_dict["NAME"])
    return "" if "memory" in name or connection.in_atomic_block else name


@contextmanager
def pool_reading(lines: int) -> Iterator[ProcessPoolExecutor | None]:
    """Yield a pool of two processes that read the record, or None for so few lines.

    None too where another process doesn't see what is in the record.
    """
    database = record_seen_by_others() if lines >= FROM_LINES else ""
    if not database:
        yield None
        return
    with pool_of_two(database) as pool:
        yield pool


def two_at_a_time(
    work: Callable, asked: Iterable[tuple], database: str, go_on: Callable[[], bool]
) -> Iterator[tuple[tuple, Any]]:
    """Yield what was asked with what the work made of it, as it comes; begun in the given order.

    Parameters
    ----------
    asked : arguments of the work, which has to be importable by name
    database : the name of the one that both read
    go_on : is asked before more is begun; what has begun is still yielded
    """
    waiting, running = iter(asked), dict[Future, tuple]()
    with pool_of_two(database) as pool:
        while True:
            for each in islice(waiting, 2 - len(running)) if go_on() else ():
                running[pool.submit(work, *each)] = each
            if not running:
                return
            for one in wait(running, return_when=FIRST_COMPLETED).done:
                yield running.pop(one), one.result()
