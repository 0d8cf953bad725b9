"""One act, one row: what is sent under a one-time key is done once, however often it is sent.

Forms bring their key in a hidden field (`program.one_act`), devices in a header
(`replacements.api.base`). The key and what was done are kept in one transaction, so that neither
stands without the other; two that arrive together are done one after the other.
"""

from collections.abc import Callable
from datetime import datetime
from typing import TypeVar

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser
from django.db import IntegrityError, transaction

from ..models import SentOnce

T = TypeVar("T")


class SentBefore(Exception):
    """The key was taken before: by the same content (`same`), or by another."""

    def __init__(self, kept: SentOnce, content_sha256: str):
        super().__init__("This was sent before.")
        self.kept, self.same = kept, kept.content_sha256 == content_sha256


def sent_once(
    *,
    user: AbstractBaseUser | AnonymousUser,
    key: str,
    content_sha256: str,
    at: datetime,
    work: Callable[[], T],
    answer: Callable[[T], tuple[int, dict] | None],
) -> T:
    """Do the work unless its key was taken before, and keep what it answered.

    Parameters
    ----------
    answer : (status, what a repeat is told) of what the work gave; None where it refused, and
        the key stays free

    Raises
    ------
    SentBefore: the work of this key is done already; nothing was done now.
    """
    given = {"sender": str(user.pk or ""), "key": key}
    _refuse_repeat(given, content_sha256)
    try:
        with transaction.atomic():
            kept = SentOnce.objects.create(**given, content_sha256=content_sha256, sent_at=at)
            done = work()
            told = answer(done)
            if told is None:
                kept.delete()
                return done
            kept.status, kept.answer = told
            kept.save(update_fields=["status", "answer"])
            return done
    except IntegrityError:
        _refuse_repeat(given, content_sha256)
        raise


def _refuse_repeat(given: dict, content_sha256: str) -> None:
    kept = SentOnce.objects.filter(**given).first()
    if kept is not None:
        raise SentBefore(kept, content_sha256)
