"""Public pages and data, kept by each web process for as long as nothing that they show changed.

They are the same for everybody: an address, its host and its language say all of one. What is kept
is compared at each request with what it hangs on: the page of a line with the line's own rows, so
that nobody reads a category that is no longer the record's, and that another line's change leaves
it alone. After an hour it is made anew anyway.
"""

from collections.abc import Callable
from functools import cache as once_ever
from functools import wraps
from hashlib import sha256
from typing import TypeVar

from django.core.cache import cache
from django.db.models import QuerySet, Subquery
from django.db.models.functions import JSONObject
from django.http import HttpResponse
from django.utils.timezone import localdate
from django.utils.translation import get_language
from django.views.decorators.cache import cache_control

from program.clock import machine_now
from program.models import NoticeSlot, OwnValue, Plan, PlanDocument, Utility
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

FRESH_SECONDS = 300  # that browsers keep what is not told anew each time
KEPT_SECONDS = 3600
T = TypeVar("T")
_THE_LINE = "the line that is asked for"  # stands in the question for its identifier
_SHOWN = ("category", "category_since", "system_material", "customer_material", "connector")
# What a page may hang on; each also hangs on the day and on the utility.
PLANNED = ("plan", "document")
PLACES = ("line", "place", "ended")
COUNTED = ("line", "change", "ended")
REPLACED = (*COUNTED, "evidence", "value")  # accepting and taking back work write evidence
LISTED = (*PLACES, "change", "evidence")
ONE_LINE = ("its", "its evidence", "its change", "its place", "ended", "value", "slot", *PLANNED)
RECORD = (*PLACES, "change", "evidence", "neighborhood", *PLANNED)


@once
def record_mark(hangs_on: tuple[str, ...] = RECORD, location_id: str = "") -> str:
    """Return another text whenever something changed that a public page hangs on.

    Empty before there is a utility.
    """
    question, parameters = _question(hangs_on)
    rows = bulk.fetched_often(question, [location_id if p == _THE_LINE else p for p in parameters])
    return f"{localdate(machine_now())} {rows[0]}" if rows else ""


@once_ever
def _question(hangs_on: tuple[str, ...]) -> tuple[str, tuple]:
    """Return what asks for the utility and the latest of all else at once, put into words once."""
    latest = _latest()
    asked = {
        f"last_{at}": Subquery(latest[name][:1]) for at, name in enumerate(dict.fromkeys(hangs_on))
    }
    utility = Utility.objects.order_by("id").annotate(**asked).values_list()[:1]
    return utility.query.sql_with_params()


def _latest() -> dict[str, QuerySet]:
    """Return what finds the latest of each thing that a page may hang on."""

    def last(rows: QuerySet, by: str = "id") -> QuerySet:
        return rows.order_by(f"-{by}").values(by)

    line = ServiceLine.objects.filter(location_id=_THE_LINE)
    shown = JSONObject(**{name: name for name in _SHOWN})
    of_line, of_place = {"line__location_id": _THE_LINE}, {"premise__lines__location_id": _THE_LINE}
    return {
        "line": last(ServiceLine.objects.all()),
        "change": last(CategoryChange.objects.all()),
        "place": last(PremiseChange.objects.all()),
        "evidence": last(Evidence.objects.all()),
        "neighborhood": last(Neighborhood.objects.all()),
        "ended": last(Batch.objects.exclude(ended_at=None), "ended_at"),
        "document": last(PlanDocument.objects.exclude(published_at=None), "number"),
        "plan": Plan.objects.filter(state=Plan.State.ADOPTED).values("adopted_at"),
        "slot": last(NoticeSlot.objects.all(), "filled_at"),
        "value": last(OwnValue.objects.all()),
        "its": line.values(shown=shown),
        "its evidence": last(Evidence.objects.filter(**of_line)),
        "its change": last(CategoryChange.objects.filter(**of_line)),
        "its place": last(PremiseChange.objects.filter(**of_place)),
    }


def kept_while(mark: str, key: str, make: Callable[[], T]) -> T:
    """Return what was made under a key, made anew where the mark is another."""
    found = cache.get(key)
    if not mark or found is None or found[0] != mark:
        found = mark, make()
        cache.set(key, found, KEPT_SECONDS)
    return found[1]


def kept(*hangs_on: str, asked_anew: bool = False):
    """Keep an answer of a view here while what it hangs on stays, and let browsers keep it.

    asked_anew : browsers ask each time whether it is still true; else they keep it for five minutes
    """
    lasts = {"no_cache": True} if asked_anew else {"max_age": FRESH_SECONDS}

    def around(view):
        @cache_control(public=True, **lasts)
        @wraps(view)
        def answered(request, *args, **kwargs):
            named = f"{request.build_absolute_uri()} {get_language()}"
            key = f"public-{sha256(named.encode('utf-8', 'surrogatepass')).hexdigest()}"
            mark = record_mark(hangs_on, kwargs.get("location_id", ""))
            found = cache.get(key)
            if mark and found and found[0] == mark:
                _, content, content_type, request.base_map = found
                return HttpResponse(content, content_type=content_type)
            made = view(request, *args, **kwargs)
            if mark and made.status_code == 200 and not made.streaming:
                shown = made.content, made.headers["Content-Type"], getattr(request, "base_map", "")
                cache.set(key, (mark, *shown), KEPT_SECONDS)
            return made

        return answered

    return around
