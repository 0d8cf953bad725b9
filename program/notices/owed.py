"""Which notices the record owes, to whom and by when (40 CFR 141.85(e), 141.84(h)).

Each day comes from a fact of `program.domain.deadlines`; the record only says which facts there
are. Lines are read in order of id, a chunk at a time, so that a million of them stay in flat
memory; days and sentences repeat, so each is worked out once.
"""

from collections.abc import Iterator
from datetime import date, datetime
from functools import cache

from django.db.models import CharField, DateField, Exists, OuterRef, Q, Subquery, Value
from django.db.models.functions import Cast, Concat
from django.utils.timezone import localdate

from program.domain.deadlines import (
    Discovery,
    Due,
    InventoryFinished,
    ReplacementWork,
    WorkKind,
    YearlyNotice,
)
from program.models import Notice
from program.notices.templates_text import NoticeKind
from replacements.models import Replacement
from services_inventory.domain.classification import Category
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange, ServiceLine, ValidationPick

STANDING_KINDS = (NoticeKind.LEAD, NoticeKind.GRR, NoticeKind.UNKNOWN)
FOUND = {"FOUND_LEAD": Category.LEAD, "FOUND_GRR": Category.GRR}
CHUNK = 20_000


def owed_for_events(as_of: date, rules: Rules) -> list[Notice]:
    """Return the notices owed because of findings and replacements, not on the list yet."""
    return [*_validation_findings(as_of, rules), *_replacements(as_of, rules)]


def lines_to_look_at() -> int:
    """Return how many lines `owed_for_lines` reads, for its progress."""
    return ServiceLine.objects.filter(category__in=STANDING_KINDS).count()


def owed_for_lines(as_of: date, rules: Rules) -> Iterator[list[tuple]]:
    """Yield what is owed to lead, GRR and unknown lines without an open notice, by chunks.

    Rows are (line id, kind, due day as text, rule id, how computed): the first notice, or the
    yearly one after the last that was delivered.
    """
    due_of, last_id = _dues(as_of, rules), 0
    while rows := list(_lines_without_notice(as_of, last_id)[:CHUNK]):
        last_id = rows[-1][0]
        yield [
            (line_id, category, *due_of(category, _known(*since), came_from, sent))
            for line_id, category, *since, came_from, sent in rows
        ]


def _lines_without_notice(as_of: date, after_id: int):
    """Return (id, category, since, recorded when, by work, category before, last notice) by id.

    A notice of another kind, or from before the line had its category, does not count: what it
    said is not what is known now.
    """
    of_line = Notice.objects.filter(line=OuterRef("pk"), withdrawn_on__isnull=True)
    same = of_line.filter(kind__in=(OuterRef("category"), NoticeKind.VALIDATION_FINDING.value))
    sent = same.filter(delivered_on__gte=OuterRef("category_since")).order_by("-delivered_on")
    change = CategoryChange.objects.filter(
        line=OuterRef("pk"), to_category=OuterRef("category"), effective_on__lte=as_of
    ).order_by("-effective_on", "-recorded_at", "-id")
    waiting = same.filter(delivered_on__isnull=True).exclude(subject__startswith="customer")
    return (
        ServiceLine.objects.filter(
            ~Exists(waiting),
            id__gt=after_id,
            category__in=STANDING_KINDS,
            category_since__lte=as_of,
        )
        .order_by("id")
        .values_list(
            "id",
            "category",
            "category_since",
            Subquery(change.values("recorded_at")[:1]),
            Exists(
                Replacement.objects.standing(as_of).filter(
                    line=OuterRef("pk"), replaced_on=OuterRef("category_since")
                )
            ),
            Subquery(change.values("from_category")[:1]),
            Subquery(sent.values("delivered_on")[:1], output_field=DateField()),
        )
    )


def _known(since: date, recorded_at: datetime, by_work: bool) -> date:
    """The day from which a clock runs: when the utility knew, however far a correction reaches.

    Work was known to whoever did it on its day.
    """
    return since if by_work else max(since, localdate(recorded_at))


def _dues(as_of: date, rules: Rules):
    inventory_due = rules.latest("INITIAL_INVENTORY_DUE").value

    def due(category: str, since: date, came_from: str | None, sent: date | None) -> Due:
        if sent is not None:
            return YearlyNotice("", sent).dues(as_of, rules)[0]
        if came_from is not None and category != Category.UNKNOWN:
            return Discovery("", since).dues(as_of, rules)[0]
        return InventoryFinished("", max(since, inventory_due)).dues(as_of, rules)[0]

    @cache
    def due_of(*facts) -> tuple[str, str, str]:
        found = due(*facts)
        return found.due_on.isoformat(), found.rule_id, found.how_computed

    return due_of


def _notice(line_id: int, kind: str, due: Due, subject: str = "", values=None) -> Notice:
    return Notice(
        line_id=line_id,
        kind=kind,
        due_on=due.due_on,
        rule_id=due.rule_id,
        how_computed=due.how_computed,
        subject=subject,
        values=values or {},
    )


def _listed(prefix: str, *kinds: NoticeKind) -> Exists:
    """Tell whether a notice of one of these kinds about the outer row is on the list."""
    subject = Concat(Value(prefix), Cast(OuterRef("pk"), CharField()))
    return Exists(Notice.objects.filter(line=OuterRef("line"), kind__in=kinds, subject=subject))


def work_stands(as_of: date) -> Exists:
    """Tell whether the work that the outer notice is about stands."""
    subject = Concat(Value("replacement-"), Cast("pk", CharField()))
    works = Replacement.objects.standing(as_of).filter(line=OuterRef("line"))
    return Exists(works.alias(about=subject).filter(about=OuterRef("subject")))


def _validation_findings(as_of: date, rules: Rules) -> Iterator[Notice]:
    """Lines called non-lead where the validation found lead or GRR."""
    picks = ValidationPick.objects.filter(
        ~_listed("finding-", NoticeKind.VALIDATION_FINDING),
        result__in=FOUND,
        result_on__lte=as_of,
    ).order_by("id")
    for pk, line_id, result, found_on in picks.values_list("id", "line", "result", "result_on"):
        due = Discovery(str(line_id), found_on).dues(as_of, rules)[0]
        values = {"found_date": found_on.isoformat(), "finding": FOUND[result].label}
        kind = NoticeKind.VALIDATION_FINDING.value
        yield _notice(line_id, kind, due, f"finding-{pk}", values)


def _replacements(as_of: date, rules: Rules) -> Iterator[Notice]:
    """Accepted replacements; the notice was due before the line went back into service.

    A partial one was announced already where its event was put on the list.
    """
    listed = _listed("replacement-", NoticeKind.REPLACEMENT, NoticeKind.PARTIAL)
    work = Replacement.objects.standing(as_of).filter(~listed).order_by("id")
    wanted = ("id", "line", "replaced_on", "completion__quality", "completion__handed_in_by")
    partial = Q(category_after__in=(Category.LEAD, Category.GRR))
    for pk, line_id, done_on, quality, by in work.exclude(partial).values_list(*wanted):
        yield _about_work(pk, line_id, WorkKind.FULL, done_on, quality, by, as_of, rules)
    announced = Notice.objects.filter(
        line=OuterRef("line"), kind=NoticeKind.PARTIAL.value, withdrawn_on__isnull=True
    )
    for row in work.filter(partial, ~Exists(announced)).values_list(*wanted):
        pk, line_id, done_on, quality, by = row
        kind = WorkKind.EMERGENCY_PARTIAL
        yield _about_work(pk, line_id, kind, done_on, quality, by, as_of, rules)


def _about_work(pk, line_id, work_kind, done_on, quality, by, as_of, rules) -> Notice:
    fact = ReplacementWork(str(pk), str(line_id), work_kind, completed_on=done_on)
    kind = NoticeKind.REPLACEMENT if work_kind is WorkKind.FULL else NoticeKind.PARTIAL
    values = {} if work_kind is WorkKind.FULL else {"work_date": done_on.isoformat()}
    due = fact.dues(as_of, rules)[0]
    notice = _notice(line_id, kind.value, due, f"replacement-{pk}", values)
    return _handed_over(notice, quality, by)


def _handed_over(notice: Notice, quality: dict, by: str) -> Notice:
    """Take the day on which the crew gave the notice to the household, where it is on record."""
    day = (quality.get("household") or {}).get("notice_on")
    if day:
        notice.delivered_on = date.fromisoformat(day)
        notice.delivered_by, notice.recorded_by = Notice.Means.BY_HAND.value, by
    return notice
