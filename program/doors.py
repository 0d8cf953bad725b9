"""What a session still owes: the second step, a password after a rest or before a grave act.

Until it is given the session is nobody's: every page, file and interface answers as to somebody
who is not signed in. What was typed into a form meanwhile is kept, and stands there again.

A page that wants a password shown not long ago says so: `confirmed_within`, in seconds.
"""

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import resolve, reverse
from django.utils import translation
from django.utils.functional import SimpleLazyObject
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as _

from services_inventory.asked_often import client_address

from .clock import machine_now
from .languages import language_for
from .roles import CONTRACTOR, role_of
from .second_step import needs_second_step
from .sessions import DOOR
from .typed import KEY as TYPED
from .typed import keep

SECOND_STEP, REST, ANEW = "second_step", "rest", "anew"
HELD = "held"  # what was typed, until its page is shown again
_BROWSERS = ("Edg", "Firefox", "CriOS", "FxiOS", "Chrome", "Safari")
_CALLED = {"Edg": "Edge", "CriOS": "Chrome", "FxiOS": "Firefox"}
_MACHINES = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
_NOTED_EVERY = 60  # seconds between two writings of when a session was last used


def opened(sender, request, user, **kwargs) -> None:
    """Note who comes in, from where, and what they owe (on every sign-in)."""
    now = machine_now().timestamp()
    agent = request.headers.get("User-Agent", "")
    request.session[DOOR] = {
        "begun": now, "seen": now, "confirmed": now,
        "owes": SECOND_STEP if needs_second_step(user) else "",
        "rests": 0 if role_of(user) == CONTRACTOR else settings.IDLE_MINUTES * 60,
        "from": client_address(request), "browser": told(agent),
    }  # fmt: skip
    held = request.session.get(HELD)
    if held and not user.has_perm(_page_at(held["address"]).permission_required):
        del request.session[HELD]  # somebody else typed it
    if not request.session[DOOR]["owes"]:
        _put_back(request)


def _page_at(address: str):
    return resolve(address).func.view_class


def told(agent: str) -> str:
    """Return a browser and its machine in words, as far as it tells."""
    browser = next((one for one in _BROWSERS if one in agent), "")
    machine = next((one for one in _MACHINES if one in agent), "")
    words = [_CALLED.get(browser, browser) or "A browser", *(["on", machine] if machine else [])]
    return " ".join(words)


def owed(request: HttpRequest) -> str:
    """Return what the session of somebody who signed in still owes, or ""."""
    door = request.session.get(DOOR)
    if door is None:
        return ANEW
    if door["owes"]:
        return SECOND_STEP
    resting = door["rests"] and machine_now().timestamp() - door["seen"] > door["rests"]
    return REST if resting else ""


def given(request: HttpRequest) -> None:
    """Note that what was owed is given; what had been typed stands in its form again."""
    now = machine_now().timestamp()
    request.session[DOOR] |= {"seen": now, "owes": "", "confirmed": now}
    request.session.cycle_key()
    _put_back(request)


def _put_back(request: HttpRequest) -> None:
    """Give what was typed before the door closed to the page that is shown next."""
    if held := request.session.pop(HELD, None):
        request.session[TYPED] = held


def owe_second_step(request: HttpRequest) -> None:
    """Let nothing more be done in this session until a second step is set up."""
    request.session[DOOR] |= {"owes": SECOND_STEP}


def tongue(request) -> str:
    """Return the language of the doors: the one asked for, or the browser's."""
    asked = request.POST.get("language") or request.GET.get("language", "")
    wanted = asked or translation.get_language_from_request(request)
    return language_for(wanted)


class Doors:
    """The one place where a session is asked what it owes."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer as to nobody while something is owed; `request.waiting` is who owes it."""
        user, nobody = request.user, AnonymousUser()

        def let_in():
            return nobody if user.is_authenticated and owed(request) else user

        def waiting():
            owes = user.is_authenticated and owed(request) in (SECOND_STEP, REST)
            return user if owes else nobody

        request.user, request.waiting = SimpleLazyObject(let_in), SimpleLazyObject(waiting)
        response = self.get_response(request)
        if request.session.accessed and not request.session.is_empty():
            _seen(request)
        return response

    def process_view(self, request, view, args, kwargs) -> HttpResponse | None:
        """Keep what was sent while something is owed, and ask for that first."""
        page = getattr(view, "view_class", None)
        if request.method != "POST" or getattr(page, "at_the_door", False):
            return None
        if getattr(view, "csrf_exempt", False) or request.resolver_match.namespace == "public":
            return None
        if request.waiting.is_authenticated:
            return _first(request, "login", _("You were away for a while."))
        if not request.user.is_authenticated and isinstance(
            getattr(page, "permission_required", None), str
        ):
            return _first(request, "login", _("You were away for a while."))
        within = getattr(page, "confirmed_within", None)
        if within and request.user.is_authenticated:
            confirmed = request.session.get(DOOR, {}).get("confirmed", 0)
            if machine_now().timestamp() - confirmed > within:
                return _first(request, "confirm", _("This is signed with your name."))
        return None


def _first(request, where: str, why: str) -> HttpResponse:
    files = " " + _("Choose its files again, as those are not kept.") if request.FILES else ""
    keep(request, _("Nothing was sent yet: look through it and send it again.") + files)
    if kept := request.session.pop(TYPED, None):
        request.session[HELD] = kept
    page = request.headers.get("Referer", "")
    own = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    messages.info(request, f"{why} {_('What you typed is kept.')}{files}")
    return redirect(f"{reverse(where)}?{urlencode({'next': page if own else request.path})}")


def _seen(request) -> None:
    """Note that the session is used by a person: not by a page that looks for news by itself."""
    asked = request.headers.get("Sec-Fetch-Dest", "document")
    door, now = request.session.get(DOOR), machine_now().timestamp()
    by_hand = asked in ("document", "iframe") or request.method == "POST"
    if door and by_hand and not owed(request) and now - door["seen"] > _NOTED_EVERY:
        request.session[DOOR] = door | {"seen": now}
