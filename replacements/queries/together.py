"""Many orders shown at once: what their checks read is fetched for all of them together.

The checks of one order ask for its strings, answers, papers and tools row by row. Inside
`together` the rows are fetched beforehand, and what depends on a day or a soil alone is worked out
once; outside it every question is asked of the record as before. Nothing is written inside.
"""

from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import TypeVar

from django.db.models import Model, prefetch_related_objects

from ..models import Component, WorkOrder

T = TypeVar("T")
RELATED = (
    "tool_strings__parts__component__contractor",
    "tool_strings__answers",
    "estimates",
    "nearby_lines",
    "completions__review",
    "contractor__certificates",
    "line__contact_attempts",
    "line__consents",
    "line__people",
    "line__appointments",
    "line__premise__owner_changes",
)


class _Kept(dict):
    """Answers by question, and the tools of all strings."""

    tools: tuple[Component, ...] = ()


_KEPT: ContextVar[_Kept | None] = ContextVar("orders shown together", default=None)


@contextmanager
def together(orders: Iterable[WorkOrder]) -> Iterator[list[WorkOrder]]:
    """Give orders whose rows are fetched, while they are read and nothing is written."""
    orders = list(orders)
    prefetch_related_objects(orders, *RELATED)
    kept = _Kept()
    kept.tools = tuple({
        part.component_id: part.component
        for order in orders
        for string in order.tool_strings.all()
        for part in string.parts.all()
    }.values())  # fmt: skip
    token = _KEPT.set(kept)
    try:
        yield orders
    finally:
        _KEPT.reset(token)


def once(ask: Callable[..., T]) -> Callable[..., T]:
    """Make the answer to the same question be kept while orders are shown together."""

    @wraps(ask)
    def asked(*args: Hashable) -> T:
        kept = _KEPT.get()
        if kept is None:
            return ask(*args)
        if (ask, args) not in kept:
            kept[ask, args] = ask(*args)
        return kept[ask, args]

    return asked


def tools_together(pks: Iterable[int]) -> tuple[Component, ...]:
    """Return the tools of all orders shown together, where these are among them; else none."""
    kept = _KEPT.get()
    known = kept.tools if kept else ()
    return known if {tool.pk for tool in known}.issuperset(pks) else ()


def rows_of(owner: Model, name: str, *related: str) -> list[Model]:
    """Return the related rows of a record, by number: fetched beforehand, or now.

    related : what each row is read with, where they are fetched now
    """
    rows = getattr(owner, name)
    if _fetched(owner, name):
        return sorted(rows.all(), key=lambda row: row.pk)
    found = rows.select_related(*related) if related else rows.all()
    return list(found.order_by("pk"))


def last_of(owner: Model, name: str) -> Model | None:
    """Return the related row recorded last, None where there is none."""
    if _fetched(owner, name):
        return max(getattr(owner, name).all(), key=lambda row: row.pk, default=None)
    return getattr(owner, name).order_by("-pk").first()


def _fetched(owner: Model, name: str) -> bool:
    return name in getattr(owner, "_prefetched_objects_cache", {})
