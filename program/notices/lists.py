"""What staff see of notices: owed and overdue, what waits to be printed, the yearly certificate."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import (
    Count,
    Exists,
    F,
    Min,
    OuterRef,
    Prefetch,
    Q,
    prefetch_related_objects,
)
from django.utils.timezone import localdate

from program.domain.calendar import notice_certification_due
from program.domain.deadlines.due import SOON_DAYS
from program.models import Notice, NoticeBatch, NoticeReturn
from program.notices.printing import came_back
from program.notices.templates_text import KIND_LABELS
from program.queries.inquiries import lines_known_as
from program.rules import rules_in_force
from services_inventory.given import day_and_number_given
from services_inventory.models import ServiceLine

PAGE = 50
GROUPS = 60
LINES = 20

VALUE_LABELS = {
    "work_date": "Work on",
    "occasion": "Occasion",
    "found_date": "Found on",
    "finding": "Finding or answer",
    "received_date": "Inquiry received on",
    "sample_date": "Sample of",
    "until_date": "Offered until",
    "result": "Result",
}


def owed_figures(as_of: date) -> dict[str, int]:
    """Return how many open notices are overdue, due soon, due later, came back, are held back."""
    soon = as_of + timedelta(days=SOON_DAYS)
    return Notice.objects.open().aggregate(
        overdue=Count("id", filter=Q(due_on__lt=as_of)),
        soon=Count("id", filter=Q(due_on__range=(as_of, soon))),
        later=Count("id", filter=Q(due_on__gt=soon)),
        came_back=Count("id", filter=Q(returned_on__isnull=False)),
        held=Count("id", filter=Q(line__in=came_back().values("notice__line"))),
    )


def owed_groups(as_of: date) -> list[dict]:
    """Return the open notices: overdue ones by kind, then the others by day and kind.

    At most `GROUPS` rows of the others, and one more where there are more.
    """
    waiting = Notice.objects.open()
    overdue = waiting.filter(due_on__lt=as_of).values("kind")
    overdue = overdue.annotate(**_COUNTED, first=Min("due_on")).order_by("first", "kind")
    later = waiting.filter(due_on__gte=as_of).values("kind", "due_on")
    later = later.annotate(**_COUNTED).order_by("due_on", "kind")[: GROUPS + 1]
    late = [{**row, "due_on": row["first"], "overdue": True} for row in overdue]
    rows = [*late, *({**row, "overdue": False} for row in later)]
    return [
        {**row, "label": KIND_LABELS[row["kind"]], "days": (row["due_on"] - as_of).days}
        for row in rows
    ]


_COUNTED = {
    "number": Count("id"),
    "printed": Count("id", filter=Q(notice_batch__isnull=False, returned_on__isnull=True)),
}


def owed_page(
    kind: str, due_on: date | None, after: str, before: date | None = None, held: bool = False
) -> tuple[list[Notice], str]:
    """Return one page of open notices in order of due day, and the mark of the next page.

    before : only those due before this day, when given
    held : only those held back, as a letter came back from their address
    """
    rows = Notice.objects.open().select_related("line__premise", "notice_batch")
    if kind:
        rows = rows.filter(kind=kind)
    if due_on:
        rows = rows.filter(due_on=due_on)
    if held:
        rows = rows.filter(line__in=came_back().values("notice__line"))
    if before:
        rows = rows.filter(due_on__lt=before)
    if mark := day_and_number_given(after, "Page of notices"):
        day, number = mark
        rows = rows.filter(Q(due_on__gt=day) | Q(due_on=day, id__gt=number))
    found = list(rows.order_by("due_on", "id")[: PAGE + 1])
    more = found[PAGE - 1] if len(found) > PAGE else None
    return found[:PAGE], f"{more.due_on}_{more.pk}" if more else ""


def printings(limit: int = 30) -> list[NoticeBatch]:
    """Return the latest printings, newest first."""
    return list(NoticeBatch.objects.select_related("batch", "proof").order_by("-id")[:limit])


def certificate(year: int) -> dict:
    """Return what is certified to the State for a calendar year, by kind, with its due day.

    `delivered`: in the year; `late`: of these, after their day; `missing`: due in the year and
    neither delivered by its end nor called off before its day; `returned`: letters that came back.
    """
    first, last = date(year, 1, 1), date(year, 12, 31)
    in_year = Q(delivered_on__range=(first, last))
    due = Q(due_on__range=(first, last))
    not_by_then = Q(delivered_on__isnull=True) | Q(delivered_on__gt=last)
    owed = Q(withdrawn_on__isnull=True) | Q(withdrawn_on__gt=F("due_on"))
    rows = (
        Notice.objects.filter(in_year | due)
        .values("kind")
        .annotate(
            delivered=Count("id", filter=in_year),
            late=Count("id", filter=in_year & Q(delivered_on__gt=F("due_on"))),
            missing=Count("id", filter=due & not_by_then & owed),
        )
        .order_by("kind")
    )
    back = dict(
        NoticeReturn.objects.filter(returned_on__range=(first, last), withdrawn_at__isnull=True)
        .values_list("notice__kind")
        .annotate(n=Count("id"))
    )
    table = [
        {**row, "label": KIND_LABELS[row["kind"]], "returned": back.get(row["kind"], 0)}
        for row in rows
    ]
    return {
        "year": year,
        "due_on": notice_certification_due(year, rules_in_force()),
        "rows": table,
        "delivered": sum(row["delivered"] for row in table),
        "missing": sum(row["missing"] for row in table),
        "printings": list(
            NoticeBatch.objects.filter(delivered_on__range=(first, last))
            .select_related("proof", "batch")
            .order_by("id")
        ),
    }


CERTIFICATE_COLUMNS = (
    "reference", "kind", "location_id", "address", "language", "due_on", "delivered_on",
    "delivered_by", "days_late", "came_back_on", "rule", "how_computed",
)  # fmt: skip


def certificate_rows(year: int) -> Iterator[tuple]:
    """Yield the notices delivered in a year, and those due in it that were not, by id."""
    first, last = date(year, 1, 1), date(year, 12, 31)
    rows = Notice.objects.filter(
        Q(delivered_on__range=(first, last))
        | Q(due_on__range=(first, last), delivered_on__isnull=True, withdrawn_on__isnull=True)
        | Q(due_on__range=(first, last), delivered_on__gt=last)
    ).order_by("id")
    wanted = (
        "id", "kind", "line__location_id", "line__premise__address", "language", "due_on",
        "delivered_on", "delivered_by", "returned_on", "rule_id", "how_computed",
    )  # fmt: skip
    for row in rows.values_list(*wanted).iterator(chunk_size=5_000):
        pk, *whom, due_on, delivered_on, means, returned_on, rule, how = row
        late = max(0, (delivered_on - due_on).days) if delivered_on else ""
        yield (f"N-{pk}", *whom, due_on, delivered_on, means, late, returned_on, rule, how)


OWED_COLUMNS = (
    "reference", "kind", "location_id", "address", "language", "due_on", "printed_on",
    "came_back_on", "rule", "how_computed",
)  # fmt: skip


def owed_rows() -> Iterator[tuple]:
    """Yield every open notice by its day: who must get what, by when, and why by then."""
    wanted = (
        "id", "kind", "line__location_id", "line__premise__address", "language", "due_on",
        "notice_batch__made_at", "returned_on", "rule_id", "how_computed",
    )  # fmt: skip
    rows = Notice.objects.open().order_by("due_on", "id").values_list(*wanted)
    for pk, *whom, made_at, returned_on, rule, how in rows.iterator(chunk_size=5_000):
        printed_on = localdate(made_at) if made_at and not returned_on else None
        yield (f"N-{pk}", *whom, printed_on, returned_on, rule, how)


def notices_at(text: str) -> list[tuple[ServiceLine, list[tuple[Notice, str]]]]:
    """Return the lines at an address, or any part of one, with their notices and these's kinds.

    Owed, sent, come back and called off alike, newest day first; at most `LINES` lines, and one
    more where there are more.
    """
    noticed = ServiceLine.objects.filter(Exists(Notice.objects.filter(line=OuterRef("pk"))))
    lines = lines_known_as(text) or list(
        noticed.filter(_holds_each(text.split()))
        .select_related("premise")
        .order_by("id")[: LINES + 1]
    )
    prefetch_related_objects(
        lines, Prefetch("notices", Notice.objects.order_by("-due_on", "-id"), "told")
    )
    return [(line, [(row, KIND_LABELS[row.kind]) for row in line.told]) for line in lines]


def _holds_each(words: list[str]) -> Q:
    """Every word stands somewhere in the address, the unit, the town, the ZIP or the identifier."""
    places = [f"premise__{part}" for part in ("address", "unit", "city", "postcode")]
    found = Q()
    for word in words:
        found &= Q(
            *((f"{place}__icontains", word) for place in (*places, "location_id")), _connector=Q.OR
        )
    return found
