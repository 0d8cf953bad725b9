"""What one request asks the record again and again, read once.

Nothing outlives the request that asked. Outside a request that only reads (a form that is sent,
the worker, commands, the body of an answer that is still being sent) nothing is kept and the
record is asked each time. Once anything is written, the rest of the request asks each time too,
so that neither the new value nor one that was rolled back is hidden.
"""

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager, nullcontext
from contextvars import ContextVar
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import connection
from django.db.models import Model
from django.http import HttpRequest, HttpResponse

P, T = ParamSpec("P"), TypeVar("T")
_READS = ("SELECT", "SAVEPO", "RELEAS", "ROLLBA", "EXPLAI")


class _Answers(dict):
    """Answers by question and what it was asked of; `written` once they may no longer hold."""

    written = False

    def watch(self, execute: Callable, sql: str, *rest):
        """Stop keeping answers for the rest of the request once anything but a read is sent."""
        if not sql.lstrip(" (\n")[:6].upper().startswith(_READS):
            self.written = True
        return execute(sql, *rest)


_ANSWERS: ContextVar[_Answers | None] = ContextVar("answers of this request", default=None)


def once(ask: Callable[P, T]) -> Callable[P, T]:
    """Make the answer to the same question be kept until the request ends; nobody changes it."""

    @wraps(ask)
    def asked(*args: Hashable, **named: Hashable) -> T:
        kept = _ANSWERS.get()
        if kept is None or kept.written:
            return ask(*args, **named)
        question = (ask, args, *named.items())
        try:
            hash(question)
        except TypeError:  # a row that is not saved yet
            return ask(*args, **named)
        if question not in kept:
            kept[question] = ask(*args, **named)
        return kept[question]

    return asked


def settled(ask: Callable[P, T]) -> Callable[P, T]:
    """Make the answer be kept, too, while a long operation goes on by what held as it began.

    For what the utility sets once for all its work, such as the rule's values or the constants of
    a model: no operation `going_on_by_what_held` may write it.
    """

    @wraps(ask)
    def asked(*args: Hashable, **named: Hashable) -> T:
        kept = _SETTLED.get()
        if kept is None:
            return ask(*args, **named)
        question = (ask, args, *named.items())
        if question not in kept:
            kept[question] = ask(*args, **named)
        return kept[question]

    return asked


def until_written(*models: type[Model]) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Make the answer be kept as long as nothing is written into the tables that it rests on.

    Only within a transaction that goes on by what held as the block began: there no write is
    undone unseen.
    """
    tables = tuple(model._meta.db_table for model in models)

    def decorate(ask: Callable[P, T]) -> Callable[P, T]:
        @wraps(ask)
        def asked(*args: Hashable, **named: Hashable) -> T:
            settled = _SETTLED.get()
            if settled is None or not settled.undone_only_as_seen:
                return ask(*args, **named)
            kept = settled.resting_on.setdefault(tables, {})
            question = (ask, args, *named.items())
            if question not in kept:
                kept[question] = ask(*args, **named)
            return kept[question]

        return asked

    return decorate


class _Settled(dict):
    """Answers that hold to the end of a long operation; `resting_on` those until a write."""

    def __init__(self):
        super().__init__()
        self.resting_on: dict[tuple[str, ...], dict] = {}
        self.undone_only_as_seen = connection.in_atomic_block

    def watch(self, execute: Callable, sql: str, *rest):
        """Forget what rests on a table before it is written, and all before anything is undone."""
        begins = sql.lstrip(" (\n")[:6].upper()
        if begins == "ROLLBA":
            self.resting_on.clear()
        elif not begins.startswith(_READS):
            for tables, kept in self.resting_on.items():
                if any(table in sql for table in tables):
                    kept.clear()
        return execute(sql, *rest)


_SETTLED: ContextVar[_Settled | None] = ContextVar("what a long operation goes on by", default=None)


@contextmanager
def going_on_by_what_held() -> Iterator[None]:
    """Keep answers that are `settled` until the block ends, whatever is written in it."""
    settled = _Settled()
    token = _SETTLED.set(settled)
    try:
        with connection.execute_wrapper(settled.watch):
            yield
    finally:
        _SETTLED.reset(token)


@contextmanager
def asking_once() -> Iterator[None]:
    """Keep answers until the block ends; those of a block around it are out of sight."""
    answers = _Answers()
    token = _ANSWERS.set(answers)
    try:
        with connection.execute_wrapper(answers.watch):
            yield
    finally:
        _ANSWERS.reset(token)


def ask_once_a_request(get_response: Callable) -> Callable[[HttpRequest], HttpResponse]:
    """Keep answers while a request that only reads is answered."""

    def answer(request: HttpRequest) -> HttpResponse:
        # What is written must rest on what is read behind the locks, not on what was read before.
        with asking_once() if request.method in ("GET", "HEAD") else nullcontext():
            return get_response(request)

    return answer
