"""Facts about single lines that start clocks, each kind oldest first.

Every source takes the day, the rule's values, how many to read and, for one line, address or
person, what is chosen; it yields one more than the limit where there are more.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Exists, OuterRef, Q
from django.utils.timezone import localdate, make_aware

from program.domain.deadlines import (
    CustomerStarted,
    Discovery,
    Disturbance,
    DisturbanceKind,
    Due,
    Inquiry,
    OwnerChange,
    ReplacementWork,
    Subject,
    SubjectKind,
    WorkKind,
    follow_up_sample,
)
from program.models import CustomerWork, Notice
from program.models import Inquiry as InquiryRecord
from program.notices.templates_text import KIND_LABELS, NoticeKind
from program.queries.customer_work import open_customer_works
from program.queries.invitations import with_sampling
from replacements.models import Replacement
from replacements.queries.owners import efforts_with_new_owners
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import RegulationError, Rules
from services_inventory.models import CategoryChange, ServiceLine

from .chosen import Chosen
from .sampling_facts import monitoring_periods, outreach, sites_above

_LEAD_OR_GRR = ("LEAD", "GRR")
_STEPS = ("FILTER_DAYS", "FOLLOW_UP_SAMPLE_TO_MONTHS")
_OF_ADDRESS = (*_LEAD_OR_GRR, "UNKNOWN", NoticeKind.SAMPLE_RESULT.value)


@dataclass(frozen=True)
class Owed:
    """One thing whose day is known."""

    due: Due

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """That thing."""
        return [self.due]


def _kept(chosen: Chosen | None, field: str = "line") -> Q:
    return chosen.of_line(field) if chosen else Q()


def notices(as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None) -> Iterator[Owed]:
    """Yield the notices on the list that nobody has got yet."""
    rows = (
        Notice.objects.open()
        .filter(_kept(chosen))
        .order_by("due_on", "id")
        .values_list(
            "id", "kind", "subject", "line__location_id", "line__premise__address", "due_on",
            "rule_id", "how_computed",
        )
    )  # fmt: skip
    words: dict[str, tuple[str, str]] = {}
    for pk, kind, event, place, address, due_on, rule_id, how in rows[: limit + 1]:
        if rule_id not in words:
            words[rule_id] = _words(rules, rule_id, as_of)
        citation, mark = words[rule_id]
        yield Owed(
            Due(
                f"Notice: {KIND_LABELS[kind].lower()}",
                _about(kind, event, place, address),
                due_on,
                rule_id,
                how,
                occurrence=f"notice-{pk}",
                citation=citation,
                mark=mark,
            )
        )


def _about(kind: str, event: str, place: str, address: str) -> Subject:
    if event.startswith("customer"):
        return Subject(SubjectKind.PERSON, f"new customer at {address or place}")
    if kind in _OF_ADDRESS and address:
        return Subject(SubjectKind.ADDRESS, f"{address} ({place})")
    return Subject(SubjectKind.LINE, place)


def _words(rules: Rules, rule_id: str, as_of: date) -> tuple[str, str]:
    try:
        found = rules.get(rule_id, as_of)
    except RegulationError:
        return "", ""
    return found.citation, found.mark_in_words


@dataclass(frozen=True)
class HouseholdSteps:
    """What a household is owed after work besides the notice, which the list of notices holds."""

    fact: Disturbance | ReplacementWork

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The filter; after a partial replacement the follow-up sample too."""
        return [due for due in self.fact.dues(as_of, rules) if due.rule_id in _STEPS]


def disturbed(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[HouseholdSteps]:
    """Yield lines that were cut, or partly replaced in an emergency, within the last year."""
    since = add_months(as_of, -12)
    told = Q(subject__startswith="cut-") | Q(subject__startswith="emergency_partial-")
    rows = (
        Notice.objects.filter(_kept(chosen), told, withdrawn_on__isnull=True)
        .filter(due_on__range=(since, as_of))  # the notice was due that day
        .order_by("due_on", "id")
        .values_list("id", "subject", "line__location_id", "values__work_date")
    )
    for pk, event, place, day in rows[: limit + 1]:
        on, work = date.fromisoformat(day), f"event-{pk}"
        cut = event.startswith("cut-")
        yield HouseholdSteps(
            Disturbance(work, place, DisturbanceKind.CUT, on)
            if cut
            else ReplacementWork(work, place, WorkKind.EMERGENCY_PARTIAL, completed_on=on)
        )


_DAY = timedelta(days=1)


def _start_of(day: date) -> datetime:
    return make_aware(datetime.combine(day, time.min))


def discoveries(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[Discovery]:
    """Yield lines called non-lead that were found lead or GRR in the last year, without notice."""
    # Asked of each change, so that databases begin with the few changes and not with all lines.
    still = ServiceLine.objects.filter(pk=OuterRef("line"), category__in=_LEAD_OR_GRR)
    told = Notice.objects.filter(line=OuterRef("line"))
    rows = (
        CategoryChange.objects.filter(
            _kept(chosen),
            Exists(still),
            ~Exists(told),
            from_category="NON_LEAD",
            to_category__in=_LEAD_OR_GRR,
            recorded_at__gte=_start_of(add_months(as_of, -12)),
            recorded_at__lt=_start_of(as_of + _DAY),
        )
        .order_by("recorded_at", "id")
        .values_list("line__location_id", "effective_on", "recorded_at")
    )
    for place, day, recorded in rows[: limit + 1]:
        known = localdate(recorded)  # from when clocks run, however far back the finding reaches
        yield Discovery(place, max(day, known), inventory_updated_on=known)


def works(as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None) -> Iterator[Owed]:
    """Yield the follow-up samples that are due, or were missed within the last year.

    Notice, flushing instructions and filter are given before the work can be accepted. Where
    the sample was offered and the household let the time pass, nothing is overdue.
    """
    months = rules.value("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of)
    window_open = add_months(as_of, -months)
    first = add_months(as_of, -months - 12)
    rows = (
        with_sampling(Replacement.objects.standing(as_of))
        .filter(_kept(chosen), replaced_on__gte=first, sampled=False)
        .order_by("replaced_on", "id")
        .values_list(
            "completion__work_order__number",
            "line__location_id",
            "replaced_on",
            "completion__quality__household__sample_taken_on",
            "completion__quality__household__sample_declined_on",
            "completion__quality__household__sample_offered_on",
            "invited",
        )
    )
    number = 0
    for order, place, day, taken, declined, offered, invited in rows.iterator(2_000):
        if taken or declined or ((offered or invited) and day < window_open):
            continue
        yield Owed(follow_up_sample(rules, Subject(SubjectKind.LINE, place), day, order))
        number += 1
        if number > limit:
            return


def inquiries(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[Inquiry]:
    """Yield the messages that dispute a category and were not answered yet."""
    rows = (
        InquiryRecord.objects.filter(
            chosen.inquiries() if chosen else Q(),
            answered_on__isnull=True,
            kind__in=InquiryRecord.DISPUTES,
        )
        .order_by("due_on", "id")
        .values_list("id", "line__location_id", "address_given", "received_on", "inspected_on",
                     "offered_on")
    )  # fmt: skip
    for pk, place, address, received, inspected, offered in rows[: limit + 1]:
        yield Inquiry(str(pk), place or address, received, None, inspected, inspected, offered)


def customer_works(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[CustomerStarted]:
    """Yield what customers told of their own work, where the system side still stands.

    A message nobody has made a record of yet starts the clock by what it says.
    """
    yield from open_customer_works(as_of, _kept(chosen))[: limit + 1]
    limit_days = rules.value("CUSTOMER_INITIATED_LIMIT_DAYS", as_of)
    rows = (
        InquiryRecord.objects.filter(
            _kept(chosen),
            kind="REPLACED_BY_OWNER",
            replaced_on__gte=as_of - timedelta(days=2 * limit_days),
            line__isnull=False,
            customer_works__isnull=True,
        )
        .exclude(line__category="NON_LEAD")
        .exclude(Exists(CustomerWork.objects.standing().filter(line=OuterRef("line"))))
        .order_by("replaced_on", "id")
        .values_list("line__location_id", "replaced_on", "received_on")
    )
    for place, done_on, learned_on in rows[: limit + 1]:
        yield CustomerStarted(place, done_on, learned_on)


def owner_changes(
    as_of: date, rules: Rules, limit: int, chosen: Chosen | None = None
) -> Iterator[OwnerChange]:
    """Yield new owners of lead and GRR lines, with what was done about their consent."""
    for row in efforts_with_new_owners(as_of, rules, _kept(chosen, "pk"))[: limit + 1]:
        yield OwnerChange(row.location_id, row.since, row.offered_on, row.effort_on)


SOURCES: dict[str, Callable] = {
    "notices": notices,
    "discoveries": discoveries,
    "disturbances": disturbed,
    "follow-up samples": works,
    "inquiries": inquiries,
    "customers' own work": customer_works,
    "changes of owner": owner_changes,
    "monitoring periods": monitoring_periods,
    "sites above the action level": sites_above,
    "outreach": outreach,
}
