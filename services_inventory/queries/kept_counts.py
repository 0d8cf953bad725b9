"""Counts by neighborhood, kept from one page to the next and brought up to date by what changed.

A neighborhood's lines are counted again when something of one of them changed; everything is
counted again when a batch ended, as only batches move lines between neighborhoods. What is kept
is no record: every process counts for itself, an hour at most, and `check_record` counts afresh.
"""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace

from django.core.cache import cache
from django.db.models import Q, Subquery

from ..asked_once import once
from ..models import CategoryChange, Evidence, PremiseChange, ServiceLine
from .counts import NO_POSITION
from .marks import batch_mark

Cells = dict[int | None, dict[Hashable, int]]
KEPT_S = 3600
LATEST = 60
MOST_PLACES = 40


@dataclass(frozen=True)
class Mark:
    """What counts hang on.

    A transaction that began earlier may end later, so that its changes come in below the highest
    id: hence the latest few of each kind are compared one by one. A change is (id, line, ...).
    """

    batches: tuple
    line: int
    changes: tuple[tuple[tuple, ...], ...]

    def lines_changed_since(self, earlier: "Mark") -> set[int] | None:
        """Return the lines that changed; None where that cannot be told from the latest few."""
        if self.batches != earlier.batches or self.line != earlier.line:
            return None
        lines = set()
        for latest, before in zip(self.changes, earlier.changes, strict=True):
            new = set(latest) - set(before)
            if len(new) == LATEST:
                return None
            lines |= {line for _, line, *_ in new}
        return lines


@once
def category_mark() -> Mark:
    """Return what counts by category hang on."""
    last = Subquery(ServiceLine.objects.order_by("-id").values("id")[:1])
    changes = CategoryChange.objects.order_by("-id").annotate(last=last)
    rows = tuple(changes.values_list("id", "line_id", "to_category", "last")[:LATEST])
    return Mark(batch_mark(), rows[0][3] if rows else 0, (tuple(row[:3] for row in rows),))


def facts_mark() -> Mark:
    """Return what counts by anything that evidence or the building tells hang on."""
    evidence = Evidence.objects.order_by("-id").values_list("id", "line_id")
    places = PremiseChange.objects.order_by("-id").values_list("id", "premise__lines")
    mark = category_mark()
    facts = tuple(evidence[:LATEST]), tuple(places[:LATEST])
    return replace(mark, changes=(*mark.changes, *facts))


def kept_cells(key: str, now: Mark, counted: Callable[[Q], Cells]) -> Cells:
    """Return {neighborhood id: {what is counted by: lines}}; not to be changed by the caller.

    counted : counts the lines that a condition keeps, by neighborhood
    """
    kept = cache.get(key)
    if kept is not None and kept[0] == now:
        return kept[1]
    cells = _brought_up_to(now, *kept, counted) if kept is not None else None
    if cells is None:
        cells = counted(Q())
    cache.set(key, (now, cells), KEPT_S)
    return cells


def _brought_up_to(now: Mark, then: Mark, cells: Cells, counted) -> Cells | None:
    """Return the cells with the neighborhoods of changed lines counted again, if these are few."""
    lines = now.lines_changed_since(then)
    if lines is None:
        return None
    places = set(
        ServiceLine.objects.filter(id__in=lines - {None}).values_list("neighborhood_id", flat=True)
    )
    if len(places) > MOST_PLACES:
        return None
    touched = Q(neighborhood__in=places - {None})
    if None in places:
        touched |= Q(neighborhood__isnull=True)
        places.add(NO_POSITION)
    rest = {place: counts for place, counts in cells.items() if place not in places}
    return {**rest, **counted(touched)}
