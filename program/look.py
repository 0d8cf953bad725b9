"""How pages look on one screen: kept in that browser, as it hangs on the screen and the room."""

from django.conf import settings

CHOICES = {
    "theme": {"": "as this machine is set", "light": "light", "dark": "dark"},
    "rows": {"": "roomy", "close": "close together"},
}
YEAR = 365 * 24 * 3600


def look_of(request) -> dict[str, str]:
    """Return the choice of each kind; what no page offers counts as none."""
    return {
        name: chosen if (chosen := request.COOKIES.get(name, "")) in choices else ""
        for name, choices in CHOICES.items()
    }


def look_keep(request, answer):
    """Keep what was chosen in the browser that the answer goes to."""
    for name, choices in CHOICES.items():
        if (chosen := request.POST.get(name)) in choices:
            answer.set_cookie(
                name, chosen, max_age=YEAR, httponly=True, samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )  # fmt: skip
    return answer
