"""What one request asks the record again and again, read once.

Nothing outlives the request that asked. Outside a request (the worker, commands, the body of
an answer that is still being sent) nothing is kept and the record is asked each time. Once what
is kept is written inside a request, the rest of that request asks the record each time too, so
that neither the new value nor one that was rolled back is hidden.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import TypeVar

from django.http import HttpRequest, HttpResponse

T = TypeVar("T")


class _Answers(dict):
    """Answers by the function that gave them; `written` once they may no longer hold."""

    written = False


_ANSWERS: ContextVar[_Answers | None] = ContextVar("answers of this request", default=None)


def once(ask: Callable[[], T]) -> Callable[[], T]:
    """Make a question's answer be kept until the request ends."""

    @wraps(ask)
    def asked() -> T:
        kept = _ANSWERS.get()
        if kept is None or kept.written:
            return ask()
        if ask not in kept:
            kept[ask] = ask()
        return kept[ask]

    return asked


@contextmanager
def asking_once() -> Iterator[None]:
    """Keep answers until the block ends; those of a block around it are out of sight."""
    token = _ANSWERS.set(_Answers())
    try:
        yield
    finally:
        _ANSWERS.reset(token)


def forget(**_signal) -> None:
    """Stop keeping answers for the rest of the request: what they rest on was written."""
    kept = _ANSWERS.get()
    if kept is not None:
        kept.written = True


def ask_once_a_request(get_response: Callable) -> Callable[[HttpRequest], HttpResponse]:
    """Keep answers while a request is answered."""

    def answer(request: HttpRequest) -> HttpResponse:
        with asking_once():
            return get_response(request)

    return answer
