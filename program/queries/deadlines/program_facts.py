"""What the record knows of the program as a whole: deadline, certified and failed years."""

from datetime import date

from django.utils.timezone import localdate

from program.domain.calendar import last_finished_year
from program.domain.deadlines import Due, Program, Subject, SubjectKind
from program.domain.deferral import deadline_in_force
from program.domain.replacement_rate import YearStatus, assess
from program.queries.rates import year_records
from program.queries.submissions import filed_submissions
from program.utility import the_utility
from services_inventory.domain.regulation import Rules
from services_inventory.models import CategoryChange
from services_inventory.queries.counts_now import category_counts_now

_OPEN = ("LEAD", "GRR", "UNKNOWN")


def program_fact(as_of: date, rules: Rules) -> Program:
    """Return the program of the system with what is known to be done."""
    utility = the_utility()
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
    counts = category_counts_now()
    return counts["total"] > 0 and not any(counts[category] for category in _OPEN)


def _program_done(pwsid: str) -> dict[str, date]:
    """Return {key: day} of the annual submissions that were certified."""
    subject = Subject(SubjectKind.PROGRAM, pwsid)
    certified = [filed for filed in filed_submissions() if filed.certified_at]
    found = {}
    for filed in sorted(certified, key=lambda filed: filed.certified_at, reverse=True):
        day, number = localdate(filed.certified_at), str(filed.facts.get("program_year", ""))
        due = Due("", subject, day, "ANNUAL_UPDATE_DAY", "", occurrence=number)
        found[due.key] = day
    return found
