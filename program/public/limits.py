"""How often one address on the network may ask; no account needed."""

from functools import wraps

from django.http import HttpResponse

from services_inventory.asked_often import HOUR as HOUR
from services_inventory.asked_often import MINUTE, client_address, times_asked


def limited(what: str, most: int, seconds: int = MINUTE, methods: tuple[str, ...] = ()):
    """Answer 429 where an address asks more than `most` times in so many seconds."""

    def around(view):
        @wraps(view)
        def asked(request, *args, **kwargs):
            counts = not methods or request.method in methods
            if counts and times_asked(what, client_address(request), seconds) > most:
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
