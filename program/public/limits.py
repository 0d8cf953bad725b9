"""How often one address on the network may ask: kept in the cache, no account needed."""

from functools import wraps
from time import time

from django.conf import settings
from django.core.cache import cache
from django.http import HttpResponse

MINUTE, HOUR = 60, 3600


def asker(request) -> str:
    """Return the network address that asks; behind a proxy, the one the proxy saw."""
    if settings.BEHIND_HTTPS:
        forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "")
        if forwarded:
            return forwarded.rsplit(",", 1)[-1].strip()
    return request.META.get("REMOTE_ADDR", "")


def over_limit(request, what: str, most: int, seconds: int) -> bool:
    """Count one request, and tell whether it is one too many in this stretch of time."""
    key = f"asked-{what}-{asker(request)}-{int(time() // seconds)}"
    cache.add(key, 0, seconds)
    try:
        return cache.incr(key) > most
    except ValueError:  # it ran out between the two calls
        return False


def limited(what: str, most: int, seconds: int = MINUTE, methods: tuple[str, ...] = ()):
    """Answer 429 where an address asks more than `most` times in so many seconds."""

    def around(view):
        @wraps(view)
        def asked(request, *args, **kwargs):
            counts = not methods or request.method in methods
            if counts and over_limit(request, what, most, seconds):
                return HttpResponse(
                    "Too many requests from your network. Wait a little and try again.\n"
                    "Demasiadas solicitudes desde su red. Espere un poco e intente otra vez.\n",
                    status=429,
                    content_type="text/plain; charset=utf-8",
                    headers={"Retry-After": str(seconds)},
                )
            return view(request, *args, **kwargs)

        return asked

    return around
