"""Reading from a replica: which addresses, when it is new enough, and who reads the primary.

Off unless `READ_DATABASE_URL` is set. A request of an address named here reads the record from the
replica, all of it; who may do what, sessions and everything that is written are the primary's. Who
was answered by the primary keeps a cookie with the position of its log, and until the replica has
come that far goes on reading the primary: nobody misses what they have just written or seen.

How far the replica is behind is measured by that log alone: the primary's position is noted now and
then, and the latest one that the replica has passed is as old as its lag. So no clocks are
compared, and a replica that receives nothing any more is not taken for one with nothing to do.
"""

import logging
from collections.abc import Callable
from time import monotonic

from django.conf import settings
from django.core.checks import Info
from django.db import Error, connections
from django.http import FileResponse, HttpRequest, HttpResponse

from services_inventory import bulk
from services_inventory.asked_once import asking_once
from services_inventory.database_away import database_away
from services_inventory.read_from import (
    PRIMARY,
    REPLICA,
    pieces_from,
    read_from,
    reading_from,
    reads_from,
)

from .wrong_values import answered

SPACES = {"public", "ogc", "ogc_staff"}
PAGES = {
    "line_list", "line_csv", "line_geopackage", "line_map", "line_points", "line_unplaced",
    "neighborhood_list", "neighborhood_csv", "neighborhood_shapes", "neighborhood",
    "counts", "counts_csv", "lines_of_day", "frame_of_day",
    "conflict_list", "set_aside", "set_aside_csv",
    "work_order_list", "package_list", "package_geojson", "package_gpx",
    "plan_board_csv", "plan_board_shapes", "plan_shapes", "plan_points", "plan_csv",
    "plan_lines_csv", "plan_money", "plan_priority", "tier_csv",
}  # fmt: skip
# Whoever is shut out is out with the next request.
WHO_IS_LET_IN = {"auth", "axes", "otp_totp", "program.signedin", "program.mapkey"}

COOKIE, UNKNOWN = "read_after", 10**18  # no log comes that far
NOTED_EVERY_S, LEFT_ALONE_S = 1, 5
LOSSY = (
    "Acknowledged acts of the last moments may be lost with the primary: it does not wait for a "
    "replica (synchronous_standby_names is empty, or synchronous_commit is off or local)."
)
_log = logging.getLogger(__name__)


class Router:
    """Sends each question to the database of its request."""

    def db_for_read(self, model, **hints) -> str:
        """Return the one that is read, but for who may come in."""
        own = {model._meta.app_label, model._meta.label_lower}
        return PRIMARY if own & WHO_IS_LET_IN else reads_from()

    def db_for_write(self, model, **hints) -> str:
        """Return the primary."""
        return PRIMARY

    def allow_relation(self, *rows, **hints) -> bool:
        """Let rows of both belong together: they are the same record."""
        return True

    def allow_migrate(self, db, app_label, **hints) -> bool | None:
        """Leave the replica alone: it follows."""
        return False if db == REPLICA else None


class Replica:
    """What this process knows of the replica."""

    def __init__(self):
        self._noted: list[tuple[float, int]] = []  # when, and where the primary's log was then
        self._left_alone_until = 0.0

    def position_and_lag(self) -> tuple[int, float]:
        """Return how far the replica has come, and by how many seconds it is behind at most.

        Both say that it can't be read while it is away, or no replica any more.
        """
        now = monotonic()
        if now < self._left_alone_until:
            return 0, float("inf")
        try:
            if not self._noted or now - self._noted[-1][0] > NOTED_EVERY_S:
                young = [one for one in self._noted if now - one[0] <= settings.READ_LAG_SECONDS]
                with reading_from(PRIMARY):
                    self._noted = [*young, (now, bulk.position_sent())]
            with reading_from(REPLICA):
                replayed = bulk.position_replayed()
        except Error as error:
            self.leave_alone(error)
            return 0, float("inf")
        if not replayed:
            self.leave_alone("it is no replica, or none any more")
        passed = [at for at, position in self._noted if position <= replayed]
        return replayed, now - max(passed, default=float("-inf"))

    def leave_alone(self, why) -> None:
        """Ask it nothing for a while; then by a connection of its own anew."""
        self._left_alone_until = monotonic() + LEFT_ALONE_S
        connections[REPLICA].close()
        _log.warning("The replica is not read for %s s: %s", LEFT_ALONE_S, str(why).strip())

    def may_answer(self, cookie: str) -> bool:
        """Tell whether it has what somebody was answered from before, and is new enough."""
        after = int(cookie) if cookie.isascii() and cookie.isdecimal() and len(cookie) < 19 else 0
        position, lag_s = self.position_and_lag()
        return position >= after and lag_s <= settings.READ_LAG_SECONDS


THE_REPLICA = Replica()


class ReadsFromReplica:
    """The one place where a request's database is chosen."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer; whoever the primary answered is given the position of its log."""
        with reading_from(PRIMARY):
            response = self.get_response(request)
            if reads_from() == PRIMARY:
                _note_position(request, response)
            elif response.streaming and not isinstance(response, FileResponse):
                response.streaming_content = pieces_from(REPLICA, response.streaming_content)
        return response

    def process_view(self, request, view, args, kwargs) -> None:
        """Choose the replica where the address is named and it is new enough."""
        found = request.resolver_match
        named = found.namespace in SPACES or found.view_name in PAGES
        if named and request.method in ("GET", "HEAD"):
            if THE_REPLICA.may_answer(request.COOKIES.get(COOKIE, "")):
                read_from(REPLICA)

    def process_exception(self, request, error: Exception) -> HttpResponse | None:
        """Answer from the primary what the replica could not, such as one that ended meanwhile."""
        if reads_from() == PRIMARY or not isinstance(error, Error):
            return None
        if database_away(error):
            THE_REPLICA.leave_alone(error)
        _log.warning("Read from the primary instead: %s", str(error).strip())
        read_from(PRIMARY)
        view, args, kwargs = request.resolver_match
        with asking_once():
            response = answered(view, request, *args, **kwargs)
            return response.render() if hasattr(response, "render") else response


def _note_position(request, response) -> None:
    """Let a browser that wrote, or saw what the primary has, go on from there.

    Once the longest lag is over, each replica that is read has it, and the cookie may go. Devices
    and map programs keep no cookies and get none.
    """
    session = request.session
    seen = session.accessed and not session.is_empty()
    if not request.COOKIES or not (seen or request.method not in ("GET", "HEAD", "OPTIONS")):
        return
    try:
        position = bulk.position_written()
    except Error:  # what was done is done: nobody may hear otherwise
        position = UNKNOWN
    response.set_cookie(
        COOKIE, str(position), max_age=2 * settings.READ_LAG_SECONDS, httponly=True,
        secure=settings.SESSION_COOKIE_SECURE, samesite="Lax",
    )  # fmt: skip


def replica_told() -> dict | None:
    """Return what the board says of the replica; None where there is none."""
    if REPLICA not in settings.DATABASES:
        return None
    _, lag_s = THE_REPLICA.position_and_lag()
    return {
        "lag_s": None if lag_s == float("inf") else lag_s,
        "read": lag_s <= settings.READ_LAG_SECONDS,
        "most_s": settings.READ_LAG_SECONDS,
        "lossy": "" if bulk.commits_wait_for_a_replica() else LOSSY,
    }


def acts_may_be_lost(**_) -> list[Info]:
    """Say in `check --deploy` that the primary does not wait for its replica."""
    if REPLICA not in settings.DATABASES or bulk.commits_wait_for_a_replica():
        return []
    return [Info(LOSSY, id="program.I001")]
