"""Today's counts, kept from one page to the next and brought up to date by what changed since.

A neighbourhood's lines are counted again when one of them changed its category; everything is
counted again when a batch ended, as only batches move lines between neighbourhoods. What is kept
is no record: every process counts for itself, an hour at most, and `check_record` counts afresh.
"""

from dataclasses import dataclass

from django.core.cache import cache
from django.db.models import Max, Q

from ..models import CategoryChange, ServiceLine
from .counts import Cells, counted, in_all, named_counts
from .marks import batch_mark

KEPT_S = 3600
LATEST = 60
MOST_PLACES = 40
_KEY = "counts-now"


@dataclass(frozen=True)
class _State:
    """What the counts hang on.

    A transaction that began earlier may end later, so that its changes come in below the highest
    id: hence the latest few are compared one by one.
    """

    batches: tuple
    line: int
    changes: tuple[tuple, ...]

    def lines_changed_since(self, earlier: "_State") -> set[int] | None:
        """Return the lines that changed; None where that cannot be told from the latest few."""
        new = set(self.changes) - set(earlier.changes)
        same = self.batches == earlier.batches and self.line == earlier.line
        if not same or len(new) == LATEST:
            return None
        return {line for _, line, _ in new}


def _state() -> _State:
    changes = CategoryChange.objects.order_by("-id")
    return _State(
        batch_mark(),
        ServiceLine.objects.aggregate(last=Max("id"))["last"] or 0,
        tuple(changes.values_list("id", "line_id", "to_category")[:LATEST]),
    )


def neighbourhood_counts_now() -> list[dict]:
    """Return what `counts.neighbourhood_counts` does, without counting what didn't change."""
    return named_counts(cells_now())


def category_counts_now() -> dict[str, int]:
    """Return what `counts.category_counts` does for all lines, from the neighbourhoods'."""
    return in_all(cells_now())


def cells_now() -> Cells:
    """Return {neighbourhood id: {category: lines}}; not to be changed by the caller."""
    now = _state()
    kept = cache.get(_KEY)
    if kept is not None and kept[0] == now:
        return kept[1]
    cells = _brought_up_to(now, *kept) if kept is not None else None
    if cells is None:
        cells = counted(Q())
    cache.set(_KEY, (now, cells), KEPT_S)
    return cells


def _brought_up_to(now: _State, then: _State, cells: Cells) -> Cells | None:
    """Return the cells with the neighbourhoods of changed lines counted again, if these are few."""
    lines = now.lines_changed_since(then)
    if lines is None:
        return None
    places = set(
        ServiceLine.objects.filter(id__in=lines).values_list("neighbourhood_id", flat=True)
    )
    if len(places) > MOST_PLACES:
        return None
    touched = Q(neighbourhood__in=places - {None})
    if None in places:
        touched |= Q(neighbourhood__isnull=True)
    rest = {place: counts for place, counts in cells.items() if place not in places}
    return {**rest, **counted(touched)}
