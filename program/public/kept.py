"""Public pages and data, kept by each web process for as long as nothing that they show changed.

They are the same for everybody: an address, its host and its language say all of one. What is kept
is compared with the mark of the record at each request, and made anew after five minutes anyway.
"""

from collections.abc import Callable
from functools import cache as once_ever
from functools import wraps
from hashlib import sha256
from typing import TypeVar

from django.core.cache import cache
from django.db.models import Subquery
from django.http import HttpResponse
from django.utils.timezone import localdate
from django.utils.translation import get_language
from django.views.decorators.cache import cache_control

from program.clock import machine_now
from program.models import NoticeSlot, Plan, PlanDocument, Utility
from services_inventory import bulk
from services_inventory.asked_once import once
from services_inventory.models import (
    Batch,
    CategoryChange,
    Evidence,
    Neighborhood,
    PremiseChange,
    ServiceLine,
)

FRESH_SECONDS = 300
T = TypeVar("T")


@once
def record_mark() -> str:
    """Return another text whenever something changed that a public page shows.

    Empty before there is a utility.
    """
    rows = bulk.fetched(*_question())
    return f"{localdate(machine_now())} {rows[0]}" if rows else ""


@once_ever
def _question() -> tuple[str, tuple]:
    """Return what asks for the utility and the latest of all else at once, put into words once."""
    tables = ServiceLine, Evidence, CategoryChange, PremiseChange, Neighborhood, Batch
    latest = {
        f"last_{number}": table.objects.order_by("-id").values("id")
        for number, table in enumerate(tables)
    }
    latest["ended"] = Batch.objects.exclude(ended_at=None).order_by("-ended_at").values("ended_at")
    published = PlanDocument.objects.exclude(published_at=None)
    latest["document"] = published.order_by("-number").values("number")
    latest["plan"] = Plan.objects.filter(state=Plan.State.ADOPTED).values("id")
    latest["slot"] = NoticeSlot.objects.order_by("-filled_at").values("filled_at")
    asked = {name: Subquery(rows[:1]) for name, rows in latest.items()}
    utility = Utility.objects.order_by("id").annotate(**asked).values_list()[:1]
    return utility.query.sql_with_params()


def kept_while(mark: str, key: str, make: Callable[[], T]) -> T:
    """Return what was made under a key, made anew where the mark is another."""
    found = cache.get(key)
    if not mark or found is None or found[0] != mark:
        found = mark, make()
        cache.set(key, found, FRESH_SECONDS)
    return found[1]


def kept(view):
    """Let browsers keep an answer for five minutes, and keep it here while it is true."""

    @cache_control(public=True, max_age=FRESH_SECONDS)
    @wraps(view)
    def answered(request, *args, **kwargs):
        named = f"{request.build_absolute_uri()} {get_language()}"
        key = f"public-{sha256(named.encode('utf-8', 'surrogatepass')).hexdigest()}"
        mark, found = record_mark(), cache.get(key)
        if mark and found and found[0] == mark:
            _, content, content_type, request.base_map = found
            return HttpResponse(content, content_type=content_type)
        made = view(request, *args, **kwargs)
        if mark and made.status_code == 200 and not made.streaming:
            shown = made.content, made.headers["Content-Type"], getattr(request, "base_map", "")
            cache.set(key, (mark, *shown), FRESH_SECONDS)
        return made

    return answered
