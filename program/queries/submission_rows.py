"""The short lists of a submission: replacements, partials, refusals, changes, notices."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import groupby, islice
from typing import NamedTuple

from django.db.models import Q
from django.utils.timezone import localdate

from program.domain.calendar import program_year, program_year_bounds
from program.domain.replacement_pool import CategoryStep
from program.models import Notice, TapResult
from program.notices.templates_text import NoticeKind
from program.queries.access import AccessStanding, access_standings
from program.queries.pools import category_steps
from program.queries.replacements import CountedWork, counted_works
from program.submissions.rows import (
    AccessRefusalRow,
    ChangeRow,
    NoticeRow,
    PartialRow,
    ReplacementRow,
    SetAsideRow,
)
from replacements.domain.consent import ConsentRules, ConsentState, owner_change_clocks
from replacements.models import Replacement
from services_inventory.domain.classification import Category, facts_from_key
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange, Evidence, ServiceLine
from services_inventory.queries.set_aside import set_aside

CHUNK = 500


def replacement_rows(
    as_of: date, known_at: datetime, rules: Rules
) -> Iterator[ReplacementRow | PartialRow]:
    """Yield all accepted work up to the day: a partial row where some lead or GRR stayed."""
    works = counted_works(as_of, known_at, rules)
    while chunk := list(islice(works, CHUNK)):
        ids = [work.replacement_id for work in chunk]
        particulars, samples = _particulars(ids), _samples(ids, as_of, known_at)
        for work in chunk:
            make = _partial if work.kind.is_partial else _full
            yield make(work, particulars[work.replacement_id], samples[work.replacement_id])


_PARTICULARS = (
    "id", "completion__work_order__number", "line__location_id", "line__premise__address",
    "line__neighborhood__name", "category_before", "category_after",
    "completion__system_material_after", "completion__customer_material_after",
    "completion__method_used", "length_ft", "completion__work_order__contractor__name",
    "accepted_at", "facts_before", "completion__pull",
    "completion__pull__log__sha256", "completion__quality",
)  # fmt: skip
_HOUSEHOLD = (
    "notice_on", "flushing_instructions_on", "filter_on", "sample_offered_on", "sample_taken_on",
)  # fmt: skip


def _particulars(ids: list[int]) -> dict[int, tuple]:
    rows = Replacement.objects.filter(id__in=ids).values_list(*_PARTICULARS)
    return {row[0]: row[1:] for row in rows}


class _Sample(NamedTuple):
    """The sample after a replacement: offered by letter on, and what the laboratory found."""

    offered_on: date | None
    result: str


def _samples(ids: list[int], as_of: date, known_at: datetime) -> dict[int, _Sample]:
    invited = Notice.objects.filter(
        kind=NoticeKind.SAMPLE_INVITATION.value, subject__in=[f"invite-{pk}" for pk in ids],
        delivered_on__lte=as_of, withdrawn_on__isnull=True,
    )  # fmt: skip
    offered = dict(invited.values_list("subject", "delivered_on"))
    works = list(Replacement.objects.filter(id__in=ids).values_list("id", "line", "replaced_on"))
    results = _results([line for _, line, _ in works], as_of, known_at)
    return {
        pk: _Sample(offered.get(f"invite-{pk}"), _first_sample(results[line], day))
        for pk, line, day in works
    }


def _results(lines: list[int], as_of: date, known_at: datetime) -> dict[int, list[tuple]]:
    """Return (day, metal, as written) of the samples after replacements that counted then."""
    gone = Q(invalidations__recorded_at__lte=known_at) & (
        Q(invalidations__withdrawn_at__isnull=True) | Q(invalidations__withdrawn_at__gt=known_at)
    )
    rows = TapResult.objects.filter(
        Q(file__withdrawn_at__isnull=True) | Q(file__withdrawn_at__gt=known_at),
        line__in=lines, purpose=TapResult.Purpose.FOLLOW_UP, sampled_on__lte=as_of,
        file__recorded_at__lte=known_at,
    ).exclude(pk__in=TapResult.objects.filter(gone).values("pk"))  # fmt: skip
    found: dict[int, list[tuple]] = defaultdict(list)
    ordered = rows.order_by("sampled_on", "-metal", "liter", "id")
    for line, *result in ordered.values_list("line", "sampled_on", "metal", "written"):
        found[line].append(tuple(result))
    return found


def _first_sample(results: list[tuple], replaced_on: date) -> str:
    first = next((day for day, *_ in results if day >= replaced_on), None)
    told = [f"{metal.lower()} {as_is}" for day, metal, as_is in results if day == first]
    return f"{first}: {'; '.join(told)}" if first else ""


def _full(work: CountedWork, row: tuple, sample: _Sample) -> ReplacementRow:
    order, place, address, area, before, after, system, customer, method, length, who, at = row[:12]
    key, pull, log, quality = row[12:]
    had = facts_from_key(key)
    counted = work.kind.is_full
    settled = counted and after != Category.NON_LEAD
    return ReplacementRow(
        order,
        place,
        address,
        area or "",
        work.category_before if counted else before,
        Category.NON_LEAD.value if settled else after,
        work.done_on,
        work.program_year,
        "YES" if counted else "NO",
        system,
        customer,
        method,
        length,
        who,
        localdate(at),
        had.system.value,
        had.customer.value,
        had.connector.value,
        "YES" if work.connector_replaced else "NO",
        str(pull) if pull else "",
        log or "",
        *_told_household(quality, sample),
        sample.result,
        "" if counted and not settled else work.reason,
    )


def _told_household(quality: dict, sample: _Sample) -> Iterator[date | None]:
    """Yield the days on which the household was told, given and offered what the rule asks."""
    household = quality.get("household") or {}
    for name in _HOUSEHOLD:
        day = date.fromisoformat(household[name]) if household.get(name) else None
        yield day or (sample.offered_on if name == "sample_offered_on" else None)


def _partial(work: CountedWork, row: tuple, _sample: _Sample) -> PartialRow:
    order, place, address, _, _, after, *_ = row
    left = [
        f"{name}: {material.label}"
        for name, material in facts_from_key(work.facts_after).portions
        if not material.is_non_lead
    ]
    return PartialRow(
        order, place, address, work.category_before, after, work.done_on, work.program_year,
        "", "; ".join(left), None, work.reason, facts_from_key(row[12]).connector.value,
        "YES" if work.connector_replaced else "NO",
    )  # fmt: skip


def refusal_rows(as_of: date, known_at: datetime, rules: Rules) -> Iterator[AccessRefusalRow]:
    """Yield the lead and GRR lines that were left for lack of access or consent."""
    measure = ConsentRules.on(rules, as_of)
    standings = access_standings(as_of, known_at, rules)
    left = (row for row in standings if row.blocked or row.waits_for_new_owner)
    while chunk := list(islice(left, CHUNK)):
        places = _places(row.line_id for row in chunk)
        categories = _categories([row.line_id for row in chunk], as_of, known_at)
        for row in chunk:
            category = categories.get(row.line_id)
            if category in (Category.LEAD, Category.GRR):
                yield _refusal(row, *places[row.line_id], category, measure)


def _refusal(
    row: AccessStanding, place: str, address: str, category: str, measure: ConsentRules
) -> AccessRefusalRow:
    days = [attempt.day for attempt in row.attempts]
    reason, next_due = _why_left(row, measure)
    made = [
        f"{attempt.day} {attempt.method.label}: {attempt.outcome or 'no outcome noted'}"
        for attempt in row.attempts
    ]
    return AccessRefusalRow(
        place,
        address,
        category,
        reason,
        len(row.attempts),
        len({attempt.method for attempt in row.attempts}),
        min(days, default=None),
        max(days, default=None),
        "; ".join(made),
        "YES" if row.standing.effort.reasonable else "NO",
        next_due,
    )


def _why_left(row: AccessStanding, measure: ConsentRules) -> tuple[str, date | None]:
    """Return why a line was left, and by when its new owner must be offered or tried for."""
    if row.waits_for_new_owner:
        clocks = owner_change_clocks(row.owner_since, measure)
        asked = any(attempt.day >= row.owner_since for attempt in row.attempts)
        due = clocks.effort_due if asked else clocks.offer_due
        return f"New owner since {row.owner_since}", due
    if row.standing.state == ConsentState.REFUSED:
        said = [answer.answered_on for answer in row.answers if answer.binds]
        return f"Refused on {max(said)}", None
    return "No answer", None


def change_rows(
    as_of: date, known_at: datetime, rules: Rules, since: datetime | None = None
) -> Iterator[ChangeRow]:
    """Yield each line's change of category over the program year that ends on the day.

    What changed within a year counts together, as for the pool; work done divides it into what
    was found and what was replaced. A line that came to the inventory is no change. `since`:
    also what was recorded after the submission before about days before this year.
    """
    first = _first_day(as_of, rules)
    steps = category_steps(first, as_of, known_at)
    grouped = groupby(steps, key=lambda step: step.line_id)
    net = (step for _, of_line in grouped for step in net_steps(list(of_line)))
    yield from _changes(net, as_of, known_at, rules)
    if since is not None:
        yield from _changes(_late(first, since, known_at), as_of, known_at, rules)


def net_steps(steps: list[CategoryStep]) -> Iterator[CategoryStep]:
    """Yield what a line's steps of a period come to: found until the work, replaced by it."""
    steps = steps[1:] if steps[0].before is None else steps
    at = next((n for n, step in enumerate(steps) if step.replaced), len(steps))
    for part, replaced in ((steps[:at], False), (steps[at:], True)):
        if part and part[-1].after and part[0].before != part[-1].after:
            last = part[-1]
            yield CategoryStep(
                last.line_id, part[0].before, last.after, last.effective_on, replaced
            )


def _late(first: date, since: datetime, known_at: datetime) -> Iterator[CategoryStep]:
    """Steps of days before the year that came to the record since the submission before."""
    news = set(
        CategoryChange.objects.filter(
            effective_on__lt=first, recorded_at__gt=since, recorded_at__lte=known_at
        ).values_list("line_id", "effective_on")
    )
    if not news:
        return
    start = min(day for _, day in news)
    for step in category_steps(start, first.fromordinal(first.toordinal() - 1), known_at):
        if step.before and step.after and (step.line_id, step.effective_on) in news:
            yield step


def _changes(
    steps: Iterable[CategoryStep], as_of: date, known_at: datetime, rules: Rules
) -> Iterator[ChangeRow]:
    steps = iter(steps)
    while chunk := list(islice(steps, CHUNK)):
        ids = {step.line_id for step in chunk}
        places, about = _places(ids), _about(ids, as_of, known_at)
        sources = _sources(ids, known_at)
        for step in chunk:
            recorded_at, reason = about.get((step.line_id, step.effective_on), (None, ""))
            yield ChangeRow(
                *places[step.line_id],
                step.before,
                step.after,
                "REPLACED" if step.replaced else "FOUND",
                step.effective_on,
                program_year(step.effective_on, rules),
                localdate(recorded_at) if recorded_at else None,
                reason,
                sources.get((step.line_id, recorded_at), ""),
            )


def _about(ids: set[int], as_of: date, known_at: datetime) -> dict[tuple, tuple]:
    rows = (
        CategoryChange.objects.filter(
            line_id__in=ids, effective_on__lte=as_of, recorded_at__lte=known_at
        )
        .order_by("recorded_at", "id")
        .values_list("line_id", "effective_on", "recorded_at", "decision__reason")
    )
    return {(line, day): (at, reason or "") for line, day, at, reason in rows}


def _sources(ids: set[int], known_at: datetime) -> dict[tuple, str]:
    """Return {(line id, moment): where the evidence recorded then was taken from}."""
    rows = (
        Evidence.objects.filter(line_id__in=ids, recorded_at__lte=known_at)
        .exclude(source="")
        .order_by("id")
        .values_list("line_id", "recorded_at", "source")
    )
    found: dict[tuple, dict[str, None]] = {}
    for line_id, at, source in rows:
        found.setdefault((line_id, at), {})[source] = None
    return {key: "; ".join(sources) for key, sources in found.items()}


def _places(ids: Iterable[int]) -> dict[int, tuple[str, str]]:
    rows = ServiceLine.objects.filter(id__in=set(ids)).values_list(
        "id", "location_id", "premise__address"
    )
    return {pk: (place, address) for pk, place, address in rows}


def _categories(ids: list[int], as_of: date, known_at: datetime) -> dict[int, str | None]:
    rows = (
        CategoryChange.objects.filter(
            line_id__in=ids, effective_on__lte=as_of, recorded_at__lte=known_at
        )
        .order_by("line_id", "effective_on", "recorded_at", "id")
        .values_list("line_id", "to_category")
    )
    return dict(rows)


def notice_rows(as_of: date, rules: Rules) -> Iterator[NoticeRow]:
    """Yield the notices that were due in the program year, delivered by its end or not."""
    first = _first_day(as_of, rules)
    rows = (
        Notice.objects.filter(due_on__range=(first, as_of), withdrawn_on__isnull=True)
        .order_by("due_on", "id")
        .values_list(
            "line__location_id",
            "line__premise__address",
            "kind",
            "language",
            "notice_batch__languages",
            "due_on",
            "delivered_on",
            "delivered_by",
            "returned_on",
            "notice_batch_id",
        )  # fmt: skip
    )
    for *whom, own, printed, due, sent, method, returned, batch in rows.iterator(5_000):
        sent = sent if sent and sent <= as_of else None
        outcome = "Returned" if returned and returned <= as_of else ""
        number = str(batch) if batch else ""
        yield NoticeRow(
            *whom,
            own or printed or "",
            due,
            sent,
            method if sent else "",
            "Delivered" if sent else outcome,
            number,
        )


def set_aside_rows(as_of: date, known_at: datetime) -> Iterator[SetAsideRow]:
    """Yield the findings of more protective pipe that do not stand on the day."""
    for row in set_aside(as_of, known_at):
        yield SetAsideRow(
            row.location_id, row.address, row.portion, row.seen, row.how, row.stands, row.by,
            row.agreed_by, row.on, row.document, row.reason, "YES" if row.holds else "NO",
        )  # fmt: skip


def partials_said(as_of: date) -> dict[str, tuple[str, str | None]]:
    """Return {location id: (occasion, day on which the rest was offered)} of partial work.

    The letter that announces partial work offers to replace the rest.
    """
    rows = Notice.objects.filter(
        kind=NoticeKind.PARTIAL.value, withdrawn_on__isnull=True, due_on__lte=as_of
    ).order_by("due_on", "id")
    said = rows.values_list("line__location_id", "values", "delivered_on")
    return {
        place: (
            values.get("occasion", ""),
            sent.isoformat() if sent and sent <= as_of else None,
        )
        for place, values, sent in said
    }


def _first_day(as_of: date, rules: Rules) -> date:
    """Return the first day of the period that a submission as of a day reports on."""
    number = program_year(as_of, rules)
    return program_year_bounds(number, rules)[0] if number else date(as_of.year, 1, 1)
