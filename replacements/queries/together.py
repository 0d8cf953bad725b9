"""Many orders shown at once: what their checks read is fetched for all of them together.

The checks of one order ask for its strings, answers, papers and tools row by row. Inside
`together` the rows are fetched beforehand, and the same question is asked of the record once.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.db.models import Model, Prefetch, prefetch_related_objects

from services_inventory.asked_once import asking_once, once

from ..models import CompletionRecord, Component, WorkOrder

# What the gate of a pull rests on.
OF_THE_PIT = (
    "tool_strings__parts__component__contractor",
    "tool_strings__answers",
    "estimates",
    "nearby_lines",
    "contractor__certificates",
    "line__contact_attempts",
    "line__consents",
    "line__people",
    "line__appointments",
    "line__premise__owner_changes",
)
RELATED = (
    *OF_THE_PIT,
    Prefetch("completions", CompletionRecord.objects.select_related("review")),
    "completions__photos",
)


_TOOLS: ContextVar[tuple[Component, ...]] = ContextVar("tools shown together", default=())


@contextmanager
def together(orders: Iterable[WorkOrder]) -> Iterator[list[WorkOrder]]:
    """Give orders whose rows are fetched, while they are read and nothing is written."""
    orders = list(orders)
    prefetch_related_objects(orders, *RELATED)
    tools = tuple({
        part.component_id: part.component
        for order in orders
        for string in order.tool_strings.all()
        for part in string.parts.all()
    }.values())  # fmt: skip
    token = _TOOLS.set(tools)
    try:
        with asking_once():
            yield orders
    finally:
        _TOOLS.reset(token)


def tools_together(pks: Iterable[int]) -> tuple[Component, ...]:
    """Return the tools of all orders shown together, where these are among them; else none."""
    known = _TOOLS.get()
    return known if {tool.pk for tool in known}.issuperset(pks) else ()


@once
def rows_of(owner: Model, name: str, *related: str) -> list[Model]:
    """Return the related rows of a record, by number: fetched beforehand, or now.

    related : what each row is read with, where they are fetched now
    """
    rows = getattr(owner, name)
    if _fetched(owner, name):
        return sorted(rows.all(), key=lambda row: row.pk)
    found = rows.select_related(*related) if related else rows.all()
    return list(found.order_by("pk"))


@once
def last_of(owner: Model, name: str) -> Model | None:
    """Return the related row recorded last, None where there is none."""
    if _fetched(owner, name):
        return max(getattr(owner, name).all(), key=lambda row: row.pk, default=None)
    return getattr(owner, name).order_by("-pk").first()


def _fetched(owner: Model, name: str) -> bool:
    return name in getattr(owner, "_prefetched_objects_cache", {})
