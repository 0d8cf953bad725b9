"""Everything that is due, from the facts in the record; what is done is left out.

Facts about single lines are read oldest first up to a limit; a page says when it was reached.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.timezone import localdate

from program.domain.calendar import last_finished_year
from program.domain.deadlines import (
    CustomerStarted,
    Discovery,
    Due,
    DueState,
    Inquiry,
    Program,
    ReplacementWork,
    Subject,
    SubjectKind,
    WorkKind,
    calendar_of,
)
from program.domain.replacement_rate import YearStatus, assess
from program.models import DoneMark, Notice, Submission, Utility
from program.models import Inquiry as InquiryRecord
from program.queries.rates import deadline_in_force, year_records
from program.rules import rules_in_force
from replacements.models import Replacement
from services_inventory.domain.days import add_months
from services_inventory.domain.regulation import RegulationError, Rules
from services_inventory.models import CategoryChange, ServiceLine

LIMIT = 1_000
_LEAD_OR_GRR = ("LEAD", "GRR")


@dataclass(frozen=True)
class Deadlines:
    """What is due on a day, overdue first; `cut` names the kinds of facts that hit the limit."""

    as_of: date
    dues: list[Due]
    cut: tuple[str, ...]

    def number(self, state: DueState) -> int:
        """How many stand so."""
        return sum(due.state(self.as_of) is state for due in self.dues)


@dataclass(frozen=True)
class _OwedNotice:
    """A notice that the record already gives a day."""

    due: Due

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        return [self.due]


def deadlines_on(as_of: date, limit: int = LIMIT) -> Deadlines:
    """Return everything due for the program, lines, addresses and inquiries, not done by a day."""
    rules = rules_in_force()
    facts: list = [program_fact(as_of, rules)]
    cut = []
    for name, source in (
        ("notices", _notices),
        ("discoveries", _discoveries),
        ("follow-up samples", _works),
        ("inquiries", _inquiries),
        ("customers' own work", _customer_works),
    ):
        found = list(source(as_of, rules, limit))
        if len(found) > limit:
            cut.append(name)
        facts += found[:limit]
    done = _done_marks(as_of)
    dues = [due for due in calendar_of(facts, as_of, rules) if due.key not in done]
    return Deadlines(as_of, dues, tuple(cut))


def overdue_count(as_of: date) -> int:
    """Return how many deadlines are overdue on a day."""
    return deadlines_on(as_of).number(DueState.OVERDUE)


def program_fact(as_of: date, rules: Rules) -> Program:
    """Return the program of the system with what is known to be done."""
    utility = Utility.objects.order_by("id").first()
    deadline = deadline_in_force(rules)
    records = year_records(as_of, rules=rules)[: last_finished_year(as_of, rules)]
    assessed = assess(
        records, deadline.rate, first_assessed_year=rules.latest("FIRST_ASSESSED_YEAR").value
    )
    pwsid = (utility.pwsid if utility else "") or "program"
    failed = [n for n, year in enumerate(assessed, 1) if year.status is YearStatus.FAILS]
    return Program(
        pwsid,
        deadline,
        _kept_since(as_of),
        done=_program_done(pwsid),
        failed_years=tuple(failed),
        complete=_complete(),
    )


def _kept_since(as_of: date) -> date:
    first = CategoryChange.objects.order_by("effective_on").values_list("effective_on", flat=True)
    return first.first() or as_of


def _complete() -> bool:
    lines = ServiceLine.objects.filter(category__isnull=False)
    open_lines = lines.filter(category__in=(*_LEAD_OR_GRR, "UNKNOWN"))
    return lines.exists() and not open_lines.exists()


def _program_done(pwsid: str) -> dict[str, date]:
    """Return {key: day} of the annual submissions that were certified."""
    subject = Subject(SubjectKind.PROGRAM, pwsid)
    certified = Submission.objects.filter(certified_at__isnull=False).order_by("-certified_at")
    found = {}
    for facts, at in certified.values_list("facts", "certified_at"):
        number = str(facts.get("program_year", ""))
        due = Due("", subject, localdate(at), "ANNUAL_UPDATE_DAY", "", occurrence=number)
        found[due.key] = localdate(at)
    return found


def _done_marks(as_of: date) -> set[str]:
    marks = DoneMark.objects.filter(withdrawn_at__isnull=True, done_on__lte=as_of)
    return set(marks.values_list("key", flat=True))


def _notices(as_of: date, rules: Rules, limit: int) -> Iterator[_OwedNotice]:
    rows = (
        Notice.objects.filter(delivered_on__isnull=True, withdrawn_on__isnull=True)
        .order_by("due_on", "id")
        .values_list("id", "kind", "line__location_id", "due_on", "rule_id", "how_computed")
    )
    for pk, kind, place, due_on, rule_id, how in rows[: limit + 1]:
        citation, mark = _words(rules, rule_id, as_of)
        what = f"Notice: {kind.replace('_', ' ').lower()}"
        subject = Subject(SubjectKind.LINE, place)
        yield _OwedNotice(
            Due(what, subject, due_on, rule_id, how, None, None, f"notice-{pk}", citation, mark)
        )


def _words(rules: Rules, rule_id: str, as_of: date) -> tuple[str, str]:
    try:
        found = rules.get(rule_id, as_of)
    except RegulationError:
        return "", ""
    return found.citation, found.mark_in_words


def _discoveries(as_of: date, rules: Rules, limit: int) -> Iterator[Discovery]:
    """Lines called non-lead that were found lead or GRR in the last year and got no notice."""
    rows = (
        CategoryChange.objects.filter(
            from_category="NON_LEAD",
            to_category__in=_LEAD_OR_GRR,
            effective_on__range=(add_months(as_of, -12), as_of),
            line__category__in=_LEAD_OR_GRR,
            line__notices__isnull=True,
        )
        .order_by("effective_on", "id")
        .values_list("line__location_id", "effective_on", "recorded_at")
    )
    for place, day, recorded in rows[: limit + 1]:
        yield Discovery(place, day, inventory_updated_on=localdate(recorded))


def _works(as_of: date, rules: Rules, limit: int) -> Iterator[ReplacementWork]:
    """Replacements whose follow-up sample is due, or was missed within the last year.

    Notice, flushing instructions and filter are given before the work can be accepted. Where
    the sample was offered and the household let the time pass, nothing is overdue.
    """
    months = rules.value("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of)
    window_open = add_months(as_of, -months)
    first = add_months(as_of, -months - 12)
    rows = (
        Replacement.objects.filter(replaced_on__range=(first, as_of))
        .order_by("replaced_on", "id")
        .values_list(
            "completion__work_order__number",
            "line__location_id",
            "replaced_on",
            "completion__quality__household__sample_taken_on",
            "completion__quality__household__sample_declined_on",
            "completion__quality__household__sample_offered_on",
        )
    )
    number = 0
    for order, place, day, taken, declined, offered in rows.iterator(2_000):
        if taken or declined or (offered and day < window_open):
            continue
        yield ReplacementWork(
            order, place, WorkKind.FULL, None, day, None, day, day, day, None, None
        )
        number += 1
        if number > limit:
            return


def _inquiries(as_of: date, rules: Rules, limit: int) -> Iterator[Inquiry]:
    rows = (
        InquiryRecord.objects.filter(answered_on__isnull=True)
        .order_by("due_on", "id")
        .values_list("id", "line__location_id", "address_given", "received_on", "inspected_on")
    )
    for pk, place, address, received, inspected in rows[: limit + 1]:
        yield Inquiry(str(pk), place or address, received, None, inspected, inspected)


def _customer_works(as_of: date, rules: Rules, limit: int) -> Iterator[CustomerStarted]:
    limit_days = rules.value("CUSTOMER_INITIATED_LIMIT_DAYS", as_of)
    since = as_of - timedelta(days=2 * limit_days)
    rows = (
        InquiryRecord.objects.filter(
            kind="REPLACED_BY_OWNER", replaced_on__gte=since, line__isnull=False
        )
        .exclude(line__category="NON_LEAD")
        .order_by("replaced_on", "id")
        .values_list("line__location_id", "replaced_on", "received_on")
    )
    for place, done_on, learned_on in rows[: limit + 1]:
        yield CustomerStarted(place, done_on, learned_on)
