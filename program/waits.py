"""How long whoever failed to sign in waits: longer each time, and nobody for ever.

Failures are counted in the database, so every process knows of them: of a name from an address,
of a name from anywhere, of an address whatever the names. The last two, by which a stranger could
keep an owner waiting, don't hold for a browser that the name signed in from before.
"""

import hashlib
from datetime import timedelta
from math import ceil

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_username
from axes.models import AccessFailureLog, AccessLog
from django.conf import settings
from django.db.models import Max
from django.shortcuts import render
from django.utils import translation

from .clock import machine_now
from .doors import tongue

FREE = {"pair": 5, "name": 15, "address": 25}  # failures before anybody waits
REMEMBERED = {"pair": timedelta(days=1), "name": timedelta(days=1), "address": timedelta(hours=1)}
FIRST, LONGEST = timedelta(seconds=15), timedelta(minutes=15)
KNOWN_FOR = 180 * 24 * 60 * 60  # seconds that a browser is known by its cookie


def wait_after(failures: int, free: int) -> timedelta:
    """Return how long to wait after so many failures."""
    over = failures - free
    return timedelta() if over < 0 else min(FIRST * 2 ** min(over, 10), LONGEST)


def known_cookie(name: str) -> str:
    """Return the name of the cookie by which a browser is known as somebody's."""
    return f"known-{hashlib.sha256(name.lower().encode()).hexdigest()[:16]}"


def remember_browser(request, response, name: str) -> None:
    """Let this browser be known as one from which somebody signed in."""
    response.set_signed_cookie(known_cookie(name), "1", max_age=KNOWN_FOR, httponly=True,
                               secure=request.is_secure(), samesite="Lax")  # fmt: skip


def wait_of(request, name: str) -> timedelta:
    """Return how long this name has to wait at this address."""
    name, address = name.lower(), request.axes_ip_address
    known = request.get_signed_cookie(known_cookie(name), None, max_age=KNOWN_FOR) is not None
    asked = {"pair": {"username__iexact": name, "ip_address": address}}
    if not known:
        asked |= {"name": {"username__iexact": name}, "address": {"ip_address": address}}
    return max(_wait(kind, found) for kind, found in asked.items())


def _wait(kind: str, of: dict) -> timedelta:
    since = machine_now() - REMEMBERED[kind]
    if "username__iexact" in of:
        last = AccessLog.objects.filter(**of).aggregate(at=Max("attempt_time"))["at"]
        since = max(since, last or since)
    moments = AccessFailureLog.objects.filter(**of, attempt_time__gt=since)
    moments = list(moments.order_by("-attempt_time").values_list("attempt_time", flat=True)[:40])
    if not moments:
        return timedelta()
    left = moments[0] + wait_after(len(moments), FREE[kind]) - machine_now()
    return max(left, timedelta())


def wait(request, original_response=None, credentials=None):
    """Say how long to wait, in the reader's language, and who can help."""
    seconds = ceil(request.wait.total_seconds())
    told = f"{seconds}\u00a0s" if seconds < 60 else f"{ceil(seconds / 60)}\u00a0min"
    with translation.override(tongue(request)):
        answer = render(request, "registration/wait.html", {"wait": told}, status=429)
    answer["Retry-After"] = str(seconds)
    return answer


class Waits(AxesDatabaseHandler):
    """Counts as the package does; who has to wait is decided here."""

    def is_locked(self, request, credentials=None) -> bool:
        """Tell whether this name waits at this address."""
        request.wait = wait_of(request, get_client_username(request, credentials) or "")
        return settings.AXES_ENABLED and bool(request.wait)

    def user_login_failed(self, sender, credentials, request=None, **kwargs) -> None:
        """Keep a failure; who had to wait is not kept waiting longer by having tried."""
        if request is None:
            return
        if request.axes_locked_out:
            request.axes_credentials = credentials
            return
        AccessFailureLog.objects.create(
            username=(get_client_username(request, credentials) or "")[:255],
            ip_address=request.axes_ip_address,
            user_agent=request.axes_user_agent[:255],
            http_accept=request.axes_http_accept[:1025],
            path_info=request.axes_path_info[:255],
        )
