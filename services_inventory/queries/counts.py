"""How many lines of each category: today, on a past day, and as was known on a past day."""

from datetime import date, datetime

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery

from ..domain.classification import Category
from ..models import CategoryChange, Neighbourhood, ServiceLine

NONE_YET = {category.value: 0 for category in Category}


def with_total(counts: dict[str, int]) -> dict[str, int]:
    """Return counts of all four categories in rule order, and their total."""
    full = {category: counts.get(category, 0) for category in NONE_YET}
    return {**full, "total": sum(full.values())}


def category_counts(lines: QuerySet | None = None) -> dict[str, int]:
    """Return {LEAD, GRR, NON_LEAD, UNKNOWN, total} of the lines, today."""
    lines = ServiceLine.objects.all() if lines is None else lines
    rows = lines.filter(category__isnull=False).values_list("category").annotate(n=Count("*"))
    return with_total(dict(rows.order_by()))


def neighbourhood_counts() -> list[dict]:
    """Return one dict a neighbourhood (id, name, counts, total), by name; None is 'outside'."""
    found: dict[int | None, dict[str, int]] = {}
    rows = (
        ServiceLine.objects.filter(category__isnull=False)
        .values_list("neighbourhood_id", "category")
        .annotate(n=Count("*"))
        .order_by()
    )
    for neighbourhood_id, category, number in rows:
        found.setdefault(neighbourhood_id, {})[category] = number
    table = [
        {"id": pk, "name": name, **with_total(found.pop(pk, {}))}
        for pk, name in Neighbourhood.objects.order_by("name").values_list("id", "name")
    ]
    if None in found:
        table.append({"id": None, "name": "Outside every boundary", **with_total(found[None])})
    return table


def category_counts_on(day: date, known_at: datetime | None = None) -> dict[str, int]:
    """Return the counts as they were at the end of `day`.

    Parameters
    ----------
    day : date
        Changes effective after this day are taken back.
    known_at : datetime, optional
        Only what was recorded by this moment counts: what one knew then of that day.

    Notes
    -----
    Works back from today's counts through the lines that changed since, so a recent day costs
    only those. A line without any change by then did not count yet.
    """
    if known_at is not None:
        return _counts_known(day, known_at)
    counts = {k: v for k, v in category_counts().items() if k != "total"}
    moved = CategoryChange.objects.filter(effective_on__gt=day).values("line_id")
    now_of = ServiceLine.objects.filter(id__in=moved, category__isnull=False)
    for category, number in now_of.values_list("category").annotate(n=Count("*")).order_by():
        counts[category] -= number
    then = _last_changes(CategoryChange.objects.filter(effective_on__lte=day, line_id__in=moved))
    for category, number in then.values_list("to_category").annotate(n=Count("*")).order_by():
        counts[category] += number
    return with_total(counts)


def _last_changes(changes: QuerySet) -> QuerySet:
    """Keep each line's last change of those given, if it left the line in the inventory."""
    last = (
        changes.filter(line=OuterRef("line"))
        .order_by("-effective_on", "-recorded_at", "-id")
        .values("id")[:1]
    )
    return changes.filter(id=Subquery(last), to_category__isnull=False)


def _counts_known(day: date, known_at: datetime) -> dict[str, int]:
    known = CategoryChange.objects.filter(effective_on__lte=day, recorded_at__lte=known_at)
    rows = _last_changes(known).values_list("to_category").annotate(n=Count("*")).order_by()
    return with_total(dict(rows))


def categories_on(day: date, known_at: datetime | None = None) -> QuerySet:
    """Return (line_id, category) pairs as they stood at the end of `day`."""
    changes = CategoryChange.objects.filter(effective_on__lte=day)
    if known_at is not None:
        changes = changes.filter(recorded_at__lte=known_at)
    return _last_changes(changes).values_list("line_id", "to_category")


def connector_counts(lines: QuerySet | None = None) -> dict[str, int]:
    """Return the numbers of lead and of unknown connectors (rule's totals A6 and A7)."""
    lines = ServiceLine.objects.all() if lines is None else lines
    return lines.filter(category__isnull=False).aggregate(
        lead=Count("id", filter=Q(connector="LEAD")),
        unknown=Count("id", filter=Q(connector="UNKNOWN")),
    )


def unplaced_lines() -> QuerySet:
    """Return lines that lie in no neighbourhood, or whose premise has no position."""
    return (
        ServiceLine.objects.filter(category__isnull=False, neighbourhood__isnull=True)
        .select_related("premise")
        .annotate(latitude=F("premise__latitude"), longitude=F("premise__longitude"))
        .order_by("id")
    )


def counts_of_day(day: date, known_at: datetime | None = None) -> list[dict]:
    """Return one dict a neighbourhood (id, name, counts, total) at the end of `day`.

    Lines count where they lie by today's boundaries. The last row is the whole town's.
    """
    table: dict[int | None, dict[str, int]] = {}
    past = CategoryChange.objects.filter(effective_on__lte=day)
    if known_at is None:
        moved = CategoryChange.objects.filter(effective_on__gt=day).values("line_id")
        _add(table, ServiceLine.objects.filter(category__isnull=False), 1)
        _add(table, ServiceLine.objects.filter(id__in=moved, category__isnull=False), -1)
        past = past.filter(line_id__in=moved)
    else:
        past = past.filter(recorded_at__lte=known_at)
    _add(table, _last_changes(past), 1, "line__neighbourhood_id", "to_category")
    names = [*Neighbourhood.objects.order_by("name").values_list("id", "name")]
    rows = [
        {"id": pk, "name": name, **with_total(table.get(pk, {}))}
        for pk, name in [*names, (None, "Outside every boundary")]
        if pk is not None or table.get(None)
    ]
    town = {key: sum(row[key] for row in rows) for key in (*NONE_YET, "total")}
    return [*rows, {"id": None, "name": "Whole town", **town}]


def _add(
    table: dict, rows: QuerySet, sign: int, place: str = "neighbourhood_id", what: str = "category"
) -> None:
    counted = rows.order_by().values_list(place, what).annotate(n=Count("*"))
    for pk, category, number in counted:
        cell = table.setdefault(pk, {})
        cell[category] = cell.get(category, 0) + sign * number
