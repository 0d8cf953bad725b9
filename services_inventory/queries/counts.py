"""How many lines of each category: today, on a past day, and as was known on a past day."""

from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Case, Count, Exists, F, OuterRef, Q, QuerySet, Value, When

from ..domain.classification import Category
from ..models import CategoryChange, Neighborhood, ServiceLine

Cells = dict[int | None, dict[str, int]]
# What lies in no neighborhood: outside every boundary (None), or without a position.
NO_POSITION = 0
NOWHERE_NAMES = ((None, "Outside every boundary"), (NO_POSITION, "No position"))
NONE_YET = {category.value: 0 for category in Category}


class Move(NamedTuple):
    """How many lines would go from one category, and place in the validation pool, to another."""

    category: str | None
    validation: str
    new_category: str | None
    new_validation: str
    lines: int


def with_total(counts: dict[str, int]) -> dict[str, int]:
    """Return counts of all four categories in rule order, and their total."""
    full = {category: counts.get(category, 0) for category in NONE_YET}
    return {**full, "total": sum(full.values())}


def category_counts(lines: QuerySet | None = None) -> dict[str, int]:
    """Return {LEAD, GRR, NON_LEAD, UNKNOWN, total} of the lines, today."""
    lines = ServiceLine.objects.all() if lines is None else lines
    rows = lines.filter(category__isnull=False).values_list("category").annotate(n=Count("*"))
    return with_total(dict(rows.order_by()))


def counted(kept: Q) -> Cells:
    """Return {neighborhood id: {category: lines}} of these lines, from one index."""
    cells: Cells = {}
    _add(cells, ServiceLine.objects.filter(kept, category__isnull=False), 1)
    return cells


def in_all(cells: Cells) -> dict[str, int]:
    """Return the sum over all neighborhoods, and its total."""
    whole: dict[str, int] = {}
    for counts in cells.values():
        for category, number in counts.items():
            whole[category] = whole.get(category, 0) + number
    return with_total(whole)


def neighborhood_counts() -> list[dict]:
    """Return one dict a neighborhood (id, name, counts, total), by name; then what is in none."""
    return named_counts(counted(Q()))


def named_counts(cells: Cells) -> list[dict]:
    """Return the cells as rows: every neighborhood by name, then what lies in none."""
    names = [*Neighborhood.objects.order_by("name").values_list("id", "name")]
    return [
        {"id": pk, "name": name, **with_total(cells.get(pk, {}))}
        for pk, name in [*names, *NOWHERE_NAMES]
        if pk or any(cells.get(pk, {}).values())
    ]


def category_counts_on(day: date, known_at: datetime | None = None) -> dict[str, int]:
    """Return the counts as they were at the end of `day`; `cells_on` says how."""
    return in_all(cells_on(day, known_at))


def cells_on(day: date, known_at: datetime | None = None, now: Cells | None = None) -> Cells:
    """Return the cells as they were at the end of `day`; lines count where they lie today.

    Parameters
    ----------
    day : date
        Changes effective after this day are taken back.
    known_at : datetime, optional
        Only what was recorded by this moment counts: what one knew then of that day.
    now : today's cells, where they are known already

    Notes
    -----
    Works back from today's counts through the lines that changed since, so a recent day costs
    only those; where most have changed since, all are counted by their changes. A line without
    any change by then did not count yet.
    """
    past, later = Q(effective_on__lte=day), Q(effective_on__gt=day)
    if known_at is not None:
        past, later = past & Q(recorded_at__lte=known_at), later | Q(recorded_at__gt=known_at)
    now, since = now or counted(Q()), CategoryChange.objects.filter(later)
    cells: Cells = {}
    if since.count() * 2 < in_all(now)["total"]:
        moved = since.values("line_id")
        cells = {place: dict(row) for place, row in now.items()}
        _add(cells, ServiceLine.objects.filter(id__in=moved, category__isnull=False), -1)
        past &= Q(line_id__in=moved)
    _add(cells, _last_changes(past), 1, "line__", "to_category")
    return cells


def _last_changes(past: Q) -> QuerySet:
    """Return each line's last change of those past, if it left the line in the inventory.

    past : also which lines, if not all: else PostgreSQL may walk the changes of all others, too
    """
    of_line = CategoryChange.objects.filter(past, line=OuterRef("line"))
    same_day = Q(effective_on=OuterRef("effective_on"))
    same_moment = same_day & Q(recorded_at=OuterRef("recorded_at"))
    later = of_line.filter(
        Q(effective_on__gt=OuterRef("effective_on"))
        | same_day & Q(recorded_at__gt=OuterRef("recorded_at"))
        | same_moment & Q(id__gt=OuterRef("id"))
    )
    return CategoryChange.objects.filter(past, ~Exists(later), to_category__isnull=False)


def changes_standing_on(day: date, known_at: datetime | None = None) -> QuerySet:
    """Return the change by which each line counted at the end of `day`; one a line."""
    past = Q(effective_on__lte=day)
    if known_at is not None:
        past &= Q(recorded_at__lte=known_at)
    return _last_changes(past)


def categories_on(day: date, known_at: datetime | None = None) -> QuerySet:
    """Return (line_id, category) pairs as they stood at the end of `day`."""
    return changes_standing_on(day, known_at).values_list("line_id", "to_category")


def connector_counts() -> dict[str, int]:
    """Return the numbers of lead and of unknown connectors (rule's totals A6 and A7)."""
    return ServiceLine.objects.filter(category__isnull=False).aggregate(
        lead=Count("id", filter=Q(connector="LEAD")),
        unknown=Count("id", filter=Q(connector="UNKNOWN")),
    )


# Why a line is in no neighborhood, as an address of its list says it.
NOWHERE_WHYS = {
    "position": (NO_POSITION, Q(premise__latitude__isnull=True)),
    "boundary": (None, Q(premise__latitude__isnull=False)),
}


def unplaced_lines(why: str = "", *, still_open: bool = False) -> QuerySet:
    """Return lines that lie in no neighborhood, or whose premise has no position.

    why : a key of NOWHERE_WHYS; still_open : only lead, galvanized and unknown ones
    """
    lines = ServiceLine.objects.filter(category__isnull=False, neighborhood__isnull=True)
    if why in NOWHERE_WHYS:
        lines = lines.filter(NOWHERE_WHYS[why][1])
    if still_open:
        lines = lines.exclude(category=Category.NON_LEAD)
    return (
        lines.select_related("premise")
        .annotate(latitude=F("premise__latitude"), longitude=F("premise__longitude"))
        .order_by("id")
    )


def unplaced_counts(cells: Cells) -> list[dict]:
    """Return how many lines are in no neighborhood, by reason, and how many of them are open."""
    names = dict(NOWHERE_NAMES)
    found = []
    for why, (place, _) in NOWHERE_WHYS.items():
        cell = cells.get(place, {})
        every = sum(cell.values())
        number = every - cell.get(Category.NON_LEAD, 0)
        found.append({"why": why, "name": names[place], "lines": every, "open": number})
    return found


def counts_of_day(
    day: date, known_at: datetime | None = None, now: Cells | None = None
) -> list[dict]:
    """Return one dict a neighborhood (id, name, counts, total) at the end of `day`.

    Lines count where they lie by today's boundaries. The last row is the whole town's.
    """
    cells = cells_on(day, known_at, now)
    return [*named_counts(cells), {"id": None, "name": "Whole town", **in_all(cells)}]


def place_of(line: str = "") -> Case:
    """Return a line's neighborhood id, or why it is in none; it reads the premises of all lines."""
    within = {f"{line}neighborhood__isnull": False}
    return Case(
        When(**within, then=F(f"{line}neighborhood_id")),
        When(**{f"{line}premise__latitude__isnull": True}, then=Value(NO_POSITION)),
    )


def _add(cells: Cells, rows: QuerySet, sign: int, line: str = "", what: str = "category") -> None:
    place = f"{line}neighborhood_id"
    counts = list(rows.order_by().values_list(place, what).annotate(n=Count("*")))
    if any(pk is None for pk, *_ in counts):
        # Only these lines' premises are looked at.
        nowhere = rows.filter(**{f"{line}neighborhood__isnull": True}).order_by()
        counts = [row for row in counts if row[0] is not None]
        counts += nowhere.values_list(place_of(line), what).annotate(n=Count("*"))
    for pk, category, number in counts:
        cell = cells.setdefault(pk, {})
        cell[category] = cell.get(category, 0) + sign * number
