"""What every page knows: the utility, the day, and where this user may go."""

from functools import partial

from django.urls import reverse

from .clock import today
from .look import look_of
from .operations.kept_views import without_place
from .roles import role_of
from .rooms import keeps_views, rooms_for
from .typed import typed
from .utility import the_utility


def page(request) -> dict:
    """Return the utility, today, the scenario's day if any, the role and where to go.

    `work_on` is where lines that an inventory page shows are worked on: its app knows of none.
    """
    utility = the_utility()
    request.base_map = utility.tile_address if utility else ""
    standing = utility.clock_stands_at if utility else None
    signed_in = hasattr(request, "user") and request.user.is_authenticated
    return {
        "utility": utility,
        "today": standing or today(),
        "scenario_day": standing,
        "role": role_of(request.user) if signed_in else "",
        "work_on": reverse("chosen_lines") if signed_in else "",
        **(rooms_for(request.user, request.path) if signed_in else {}),
        **(_kept_views(request) if signed_in and keeps_views(request.path) else {}),
        "typed": partial(typed, request),
        "look": look_of(request),
    }


def _kept_views(request) -> dict:
    return {
        "kept_views": request.user.kept_views.filter(path=request.path).order_by("name"),
        "view_open": without_place(request.GET.urlencode()),
    }
