"""Today's counts by category, kept from one page to the next (`kept_counts` says how)."""

from ..asked_once import once
from .counts import Cells, counted, in_all, named_counts
from .kept_counts import category_mark, kept_cells

_KEY = "counts-now"


def neighborhood_counts_now() -> list[dict]:
    """Return what `counts.neighborhood_counts` does, without counting what didn't change."""
    return named_counts(cells_now())


def category_counts_now() -> dict[str, int]:
    """Return what `counts.category_counts` does for all lines, from the neighborhoods'."""
    return in_all(cells_now())


@once
def cells_now() -> Cells:
    """Return {neighborhood id: {category: lines}}; not to be changed by the caller."""
    return kept_cells(_KEY, category_mark(), counted)
