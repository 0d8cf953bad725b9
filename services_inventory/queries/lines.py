"""The inventory list: a page of it, how many lines there are of each category, and one line."""

from collections import Counter
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Coalesce
from django.db.models.lookups import GreaterThan

from ..domain.classification import Category
from ..models import InspectionOrder, Neighborhood, Premise, ServiceLine
from . import keyset
from .counts import NO_POSITION, in_all
from .counts_now import cells_now

COUNTED = 2000
NOWHERE = "none"
ORDERS = {
    order.key: order
    for order in (
        keyset.Order("id", "entry", (keyset.Segment(("id",)),)),
        keyset.Order(
            "address",
            "address",
            (
                keyset.Segment(
                    ("premise__address_key", "premise_id", "id"),
                    lead=keyset.Lead(Premise, ("address_key", "id"), "premise_id"),
                ),
            ),
        ),
        keyset.Order(
            "neighborhood",
            "neighborhood",
            (
                keyset.Segment(
                    ("neighborhood_id", "category", "id"), Q(neighborhood__isnull=False)
                ),
                keyset.Segment(("category", "id"), Q(neighborhood__isnull=True)),
            ),
        ),
    )
}
UNPLACED = keyset.Order("unplaced", "category", (keyset.Segment(("category", "id")),))
# Which filters the index behind an order serves itself.
SERVED = {
    "id": frozenset({"category"}),
    "address": frozenset(),
    "neighborhood": frozenset({"neighborhood"}),
}


# Written so that no index serves it: all but a few lines have a category.
_COUNTS = Q(GreaterThan(Coalesce(F("category"), Value("")), Value("")))


def lines_shown() -> QuerySet:
    """Return the lines that count, with what a list shows of them."""
    return ServiceLine.objects.filter(_COUNTS).select_related("premise", "neighborhood")


@dataclass(frozen=True)
class Tally:
    """How many lines of each category a list holds; `cut` when it stopped counting."""

    counts: dict[str, int]
    cut: bool = False

    @property
    def total(self) -> int:
        """All of them, or as many as were counted."""
        return sum(self.counts.values())


class Survey:
    """A first look at what a `filters.Chosen` keeps: all of it if that is little, else nothing."""

    def __init__(self, chosen):
        self.chosen = chosen

    @cached_property
    def counts(self) -> dict[str, int] | None:
        """Lines by category, whichever is chosen, where that is known without a look."""
        if self.chosen.keys <= {"category", "neighborhood"} and not self.chosen.problems:
            return _from_counts_now(self.chosen.values.get("neighborhood"))
        return None

    @property
    def _known_many(self) -> bool:
        wanted = self.chosen.values.get("category")
        counts = (self.counts or {}).items()
        return sum(n for category, n in counts if not wanted or category in wanted) > COUNTED

    @cached_property
    def categories(self) -> list[tuple[int, str]] | None:
        """(id, category) of what is kept whichever category is chosen; None: too many."""
        return self._some(self.chosen.few("category"))

    @cached_property
    def ids(self) -> list[int] | None:
        """Ids of the kept lines; None: too many."""
        wanted = self.chosen.values.get("category")
        if self._known_many:
            return None
        if wanted and self.counts is not None:
            return self._ids(self._some(self.chosen.few()))
        if self.categories is not None and not self.chosen.problems:
            return [pk for pk, category in self.categories if not wanted or category in wanted]
        return self._ids(self._some(self.chosen.few()) if wanted else self.categories)

    @staticmethod
    def _ids(found: list[tuple[int, str]] | None) -> list[int] | None:
        return None if found is None else [pk for pk, _ in found]

    @staticmethod
    def _some(condition: Q) -> list[tuple[int, str]] | None:
        found = list(
            ServiceLine.objects.filter(condition, _COUNTS)
            .order_by()
            .values_list("id", "category")[: COUNTED + 1]
        )
        return found if len(found) <= COUNTED else None


def line_page(survey: Survey, order_key: str, after: str = "", before: str = "") -> keyset.Page:
    """Return one page of the lines that were surveyed, in an order.

    Few lines are found by their own index and sorted; many are met by walking the order's.

    Raises
    ------
    keyset.BadPlace
        The place to go on from is not one of this order.
    """
    order, chosen = ORDERS[order_key], survey.chosen
    ids = None if chosen.keys <= {"neighborhood"} else survey.ids
    if ids is not None:
        if order_key == "id":
            ids = keyset.ids_near(ids, order, after, before)
        return keyset.page(lines_shown().filter(pk__in=ids), order.of_few(), after, before)
    return keyset.page(
        lines_shown().filter(chosen.condition(SERVED[order_key])), order, after, before
    )


def line_tally(survey: Survey, in_full: bool = False) -> Tally:
    """Return how many of the surveyed lines are of each category, whichever is chosen.

    By category and neighborhood alone the counts are exact; with other filters counting stops
    at `COUNTED` lines unless it is asked for in full.
    """
    chosen = survey.chosen
    if survey.counts is not None:
        return Tally(survey.counts)
    if survey.categories is not None:
        return Tally(_ordered(Counter(category for _, category in survey.categories)))
    if not in_full:
        return Tally({}, cut=True)
    kept = ServiceLine.objects.filter(chosen.few("category"), _COUNTS).order_by()
    return Tally(_ordered(dict(kept.values_list("category").annotate(n=Count("*")))))


def _ordered(found: dict[str, int]) -> dict[str, int]:
    return {category.value: found.get(category.value, 0) for category in Category}


def _from_counts_now(neighborhoods: list | None) -> dict[str, int]:
    cells = cells_now()
    if neighborhoods is not None:
        wanted = set(neighborhoods) | ({None, NO_POSITION} if NOWHERE in neighborhoods else set())
        cells = {place: counts for place, counts in cells.items() if place in wanted}
    return _ordered(in_all(cells))


def neighborhood_names() -> list[tuple]:
    """Return (id, name) of every neighborhood, by name."""
    return list(Neighborhood.objects.order_by("name").values_list("id", "name"))


def line_for_page(pk: int) -> ServiceLine | None:
    """Return one line with its place and the row of the rule that decided it, or None.

    `was_ordered`: whether an inspection of it was ever ordered.
    """
    return (
        ServiceLine.objects.select_related(
            "premise", "neighborhood", "decision", "batch", "batch__withdrawn_by"
        )
        .annotate(was_ordered=Exists(InspectionOrder.objects.filter(line=OuterRef("pk"))))
        .filter(pk=pk)
        .first()
    )
