"""What a person typed into a form that was refused, kept until the next page shows it again.

A form that answers by leading on to a page tells why it refused as a message. This storage of
messages keeps, beside the message, what was sent; `typed` hands it to the page, whose script puts
the words back into their fields and the sentence beside the one it names. Kept in the session for
one page: no file, no password, no more than `MOST_CHARACTERS`.
"""

from django.contrib.messages import constants
from django.contrib.messages.storage.fallback import FallbackStorage

KEY = "typed"
MOST_CHARACTERS = 50_000
NEVER = ("csrfmiddlewaretoken", "password", "secret", "token")


class KeepingStorage(FallbackStorage):
    """Messages to the next page, and with one of refusal what was sent."""

    def add(self, level, message, extra_tags=""):
        """Queue a message; keep what was sent where it says that something was refused."""
        super().add(level, message, extra_tags)
        request = self.request
        request.told = [*told(request), (level, str(message))]
        if level >= constants.ERROR and request.method == "POST" and hasattr(request, "session"):
            keep(request, str(message))


def told(request) -> list[tuple[int, str]]:
    """Return (level, sentence) of what this request has told so far."""
    return getattr(request, "told", [])


def keep(request, sentence: str) -> None:
    """Keep what was sent with a request, unless it is too long or a message kept it before."""
    sent = {
        name: values
        for name, values in request.POST.lists()
        if not any(word in name.lower() for word in NEVER)
    }
    long = sum(len(value) for values in sent.values() for value in values) > MOST_CHARACTERS
    if any(map(any, sent.values())) and not long:
        request.session[KEY] = {"address": request.path, "sent": sent, "sentence": sentence}


def typed(request) -> dict | None:
    """Return what was sent and refused just before, once."""
    session = getattr(request, "session", None)
    return session.pop(KEY, None) if session is not None and KEY in session else None
