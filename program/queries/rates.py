"""The replacement rate from frozen pools and counted replacements, and where the program stands."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from program.domain.calendar import program_year, program_year_bounds
from program.domain.counting import CountKind
from program.domain.deferral import (
    Deadline,
    Deferral,
    deadline_in_force,
    deferral_by_setting,
    deferred_deadline,
    shown_annual_number,
    years_and_months,
)
from program.domain.replacement_rate import YearAssessment, YearRecord, assess, needed_in_next_year
from program.domain.shares import percent
from program.domain.standing import ProgramStanding, standing_of_program
from program.models import PoolFreeze
from program.queries.replacements import full_in, kinds_by_year
from program.rules import rules_in_force
from program.submissions.rows import KeyedFact
from program.utility import the_utility
from services_inventory.asked_once import once
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Rules
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.counts_now import category_counts_now


@dataclass(frozen=True)
class RateYearRow:
    """One program year as the page shows it; `frozen` is its pool, `record` its figures."""

    number: int
    first_day: date
    last_day: date
    over: bool
    frozen: PoolFreeze | None
    record: YearRecord
    assessment: YearAssessment
    kinds: dict[CountKind, int]


@dataclass(frozen=True)
class DeferralFigures:
    """The test for a deferred deadline with the numbers it rests on."""

    found: Deferral
    known: int
    connections: int
    annual_number: int
    deadline: Deadline | None


@dataclass(frozen=True)
class Rate:
    """All of the rate page: years in order, the standing, what next year needs, the deferral."""

    as_of: date
    deadline: Deadline
    years: tuple[RateYearRow, ...]
    standing: ProgramStanding
    needed_next_year: int | None
    deferral: DeferralFigures | None
    counts: dict[str, int]

    @property
    def sentence(self) -> str:
        """Where the program stands; an empty record is no finished program."""
        if not any(self.counts.values()):
            day = day_told(self.as_of)
            return f"No service line is on record, so nothing is counted. As of {day}."
        return self.standing.sentence


def year_records(
    as_of: date, known_at: datetime | None = None, rules: Rules | None = None
) -> list[YearRecord]:
    """Return the figures of every program year that has begun, from year 1."""
    rules = rules or rules_in_force(known_at)
    kinds = _kinds(as_of, known_at)
    return _records(program_year(as_of, rules) or 0, kinds, _frozen(known_at))


@once
def _frozen(known_at: datetime | None) -> dict[int, PoolFreeze]:
    """Return {program year: its pool}, of those frozen by a moment if given."""
    pools = PoolFreeze.objects.all()
    if known_at is not None:
        pools = pools.filter(frozen_at__lte=known_at)
    return {pool.program_year: pool for pool in pools}


@once
def _kinds(as_of: date, known_at: datetime | None) -> dict[int | None, Counter]:
    return kinds_by_year(as_of, known_at)


def _records(running: int, kinds: dict, pools: dict[int, PoolFreeze]) -> list[YearRecord]:
    return [
        YearRecord(pools[number].size if number in pools else None, full_in(kinds.get(number, {})))
        for number in range(1, running + 1)
    ]


def counts_on(as_of: date, today: date, known_at: datetime | None = None) -> dict[str, int]:
    """Return the inventory's counts on a day, by the short way where the day is today."""
    if as_of >= today and known_at is None:
        return category_counts_now()
    return category_counts_on(as_of, known_at)


def rate_on(as_of: date, counts: dict[str, int], known_at: datetime | None = None) -> Rate:
    """Return everything about the rate on a day, as was known at a moment if given.

    counts : the inventory's on that day, known at the same moment
    """
    rules, pools = rules_in_force(known_at), _frozen(known_at)
    deadline = deadline_in_force(rules)
    running = program_year(as_of, rules) or 0
    kinds = _kinds(as_of, known_at)
    records = _records(running, kinds, pools)
    remaining = counts["LEAD"] + counts["GRR"] + counts["UNKNOWN"]
    return Rate(
        as_of=as_of,
        deadline=deadline,
        years=_rows(records, kinds, pools, deadline, as_of, rules),
        standing=standing_of_program(records, remaining, deadline, as_of, rules),
        needed_next_year=_needed_next(records, deadline),
        deferral=_deferral(counts, rules),
        counts=counts,
    )


def _rows(
    records: Sequence[YearRecord],
    kinds: dict,
    frozen: dict[int, PoolFreeze],
    deadline: Deadline,
    as_of: date,
    rules: Rules,
) -> tuple[RateYearRow, ...]:
    first_assessed = rules.latest("FIRST_ASSESSED_YEAR").value
    assessments = assess(records, deadline.rate, first_assessed_year=first_assessed)
    rows = []
    for number, (record, assessment) in enumerate(zip(records, assessments, strict=True), 1):
        first, last = program_year_bounds(number, rules)
        done = dict(kinds.get(number, {}))
        rows.append(
            RateYearRow(
                number, first, last, last <= as_of, frozen.get(number), record, assessment, done
            )
        )
    return tuple(rows)


def _needed_next(records: Sequence[YearRecord], deadline: Deadline) -> int | None:
    """Replacements of the year after the running one, were its pool the same as now."""
    if not records or any(record.pool is None for record in records):
        return None
    return needed_in_next_year(records, records[-1].pool, deadline.rate)


def _deferral(counts: dict[str, int], rules: Rules) -> DeferralFigures | None:
    utility = the_utility()
    connections = utility.connections if utility else None
    known = counts["LEAD"] + counts["GRR"]
    pool = known + counts["UNKNOWN"]
    if not connections or not pool:
        return None
    found = deferral_by_setting(known, connections, pool, rules)
    deadline = deferred_deadline(found, rules=rules) if found.eligible else None
    return DeferralFigures(found, known, connections, shown_annual_number(found, rules), deadline)


def deferral_facts(
    known: int, unknown: int, connections: int, rules: Rules
) -> tuple[KeyedFact, ...]:
    """Return the deferred-deadline sheet: the test, its numbers, and the deadline in force."""
    share, test = rules.latest("DEFERRAL_SHARE"), rules.latest("DEFERRAL_TEST_RATE")
    deadline = deadline_in_force(rules)
    kind = rules.latest("REPLACEMENT_DEADLINE")
    facts = [
        ("Deadline in force", f"{deadline.kind.label}: {day_told(deadline.last_day)}", kind),
        ("Known lead and GRR lines", f"{known}", test),
        ("Service connections", f"{connections}" if connections else "not recorded", share),
    ]
    if connections and known + unknown:
        found = deferral_by_setting(known, connections, known + unknown, rules)
        years, months = years_and_months(found.years, rules)
        facts += [
            ("Eligible for a deferred deadline", "yes" if found.eligible else "no", test),
            ("Lines a year at the threshold", f"{shown_annual_number(found, rules)}", share),
            ("Length at that number", f"{years} years and {months} months", share),
            ("Cumulative average rate", percent(found.rate, 4), share),
        ]
    return tuple(KeyedFact(name, text, rule.citation, rule.mark) for name, text, rule in facts)
