"""The program years that a plan covers: pools to come, rates so far, days to work on.

Unknown lines are looked at evenly over the first years asked for. Those found non-lead leave the
next year's pool, by the expected number, rounded so that a pool is never taken too small. A program
that has replaced every line is complete, whatever its average would be afterwards; so the plan ends
with the last year up to which the lines there are can hold the required average.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor

from program.domain.calendar import program_year, program_year_bounds
from program.domain.deferral import Deadline, deadline_in_force
from program.operations.plans.capacity import capacity_of, days_by_season
from program.queries.planning.asked import PlanAsked, PlanError
from program.queries.rates import year_records
from program.rules import rules_in_force
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Rules


@dataclass(frozen=True)
class HorizonYear:
    """One program year: its days left to work, pool at its start, unknown lines to look at.

    `season_days` holds the working days of each season, after the weather's.
    """

    year: int
    first_day: date
    last_day: date
    season_days: tuple[float, ...]
    pool: int
    unknown: int
    already_replaced: int = 0

    @property
    def work_days(self) -> int:
        """Working days of the whole year, after the weather's."""
        return round(sum(self.season_days))


@dataclass(frozen=True)
class Horizon:
    """The years to plan for, the annual rates of the years over, and what the rule asks.

    `later` holds the years between the last one planned and the deadline.
    """

    years: tuple[HorizonYear, ...]
    later: tuple[HorizonYear, ...]
    past_rates: tuple[Fraction, ...]
    deadline: Deadline
    first_assessed_year: int
    full_year_days: int
    notes: tuple[str, ...]


def horizon_of(
    as_of: date, asked: PlanAsked, known: int, chances: list[float], consented: int
) -> Horizon:
    """Return the years ahead.

    Parameters
    ----------
    known : lead and GRR lines still to replace
    chances : probability of lead or GRR of every unknown line
    consented : lines of areas where owners have agreed already

    Raises
    ------
    PlanError: the pool of a year that has begun is not frozen, nothing is left to plan, or the
        deadline is past.
    """
    if not known and not chances:
        raise PlanError("No lead, GRR or unknown line is open, so there is nothing to plan.")
    rules = rules_in_force()
    deadline = deadline_in_force(rules)
    first = program_year(as_of, rules) or 1
    last = program_year(deadline.last_day, rules) or 1
    if as_of > deadline.last_day:
        raise PlanError(
            f"The replacement deadline ({day_told(deadline.last_day)}) is past: enter the one that "
            "the State set instead, then draw the plan."
        )
    past, running = _records(as_of, first, rules)
    pool = known + len(chances) if running is None else running.pool
    years = _years(as_of, asked, rules, range(first, last + 1), pool, chances, running, consented)
    end = _last_useful(years, past, known + sum(chances), deadline, asked)
    notes = _ending_note(years, end)
    return Horizon(
        tuple(year for year in years if year.year <= end),
        tuple(year for year in years if year.year > end),
        past,
        deadline,
        rules.latest("FIRST_ASSESSED_YEAR").value,
        round(sum(days_by_season(asked, *program_year_bounds(max(2, first), rules)))),
        notes,
    )


def _records(as_of: date, first: int, rules: Rules):
    """The annual rates of the years over, and the record of the running one (None before any)."""
    records = year_records(as_of, rules=rules)
    for number, record in enumerate(records, start=1):
        if record.pool is None:
            raise PlanError(
                f"The pool of program year {number} is not frozen: freeze it on the page Rate and "
                "pool, then draw the plan."
            )
        if record.pool == 0:
            raise PlanError(
                f"The pool of program year {number} is frozen as empty, yet lines are open: look "
                "into it on the page Rate and pool."
            )
    past = tuple(Fraction(record.replaced, record.pool) for record in records[: first - 1])
    return past, records[first - 1] if len(records) >= first else None


def _years(as_of, asked, rules, numbers, pool, chances, running, consented) -> list[HorizonYear]:
    spread = min(asked.unknown_years, len(numbers))
    non_lead = sum(1 - chance for chance in chances)
    years, exact = [], Fraction(pool)
    for place, number in enumerate(numbers):
        start, end = program_year_bounds(number, rules)
        looked = _part(len(chances), spread, place)
        days = days_with_consent(asked, number, as_of, start, end, consented)
        done = running.replaced if running is not None and place == 0 else 0
        years.append(HorizonYear(number, start, end, days, max(1, ceil(exact)), looked, done))
        if chances:
            exact -= Fraction(non_lead) * looked / len(chances)
    return years


def days_with_consent(
    asked: PlanAsked, number: int, as_of: date, start: date, end: date, consented: float
):
    """Working days by season; until letters sent today are answered, those that consents fill."""
    begin, ready = max(start, as_of), as_of + timedelta(days=asked.consent_lead_days)
    whole = days_by_season(asked, begin, end)
    if ready <= begin:
        return whole
    later = days_by_season(asked, ready, end)
    waiting = sum(whole) - sum(later)
    jobs = waiting * asked.jobs_a_day * (asked.crews_in(number) or 1)
    part = min(1.0, consented / jobs) if jobs > 0 else 0.0
    return tuple(b + part * (a - b) for a, b in zip(whole, later, strict=True))


def _part(total: int, parts: int, place: int) -> int:
    """The place-th of `parts` nearly equal whole parts of a total."""
    return total * (place + 1) // parts - total * place // parts if place < parts else 0


def _last_useful(years, past, work: float, deadline: Deadline, asked: PlanAsked) -> int:
    """The last year by whose end all work done at once would still hold the average.

    Later ones are added while crews or money could not do the work by then, as far as work done
    no sooner than the average asks still suffices.
    """
    rate = deadline.rate
    base = sum(past, Fraction(0))
    largest = max(year.pool for year in years)
    held = base + (Fraction(work) + years[0].already_replaced) / largest
    end = max(years[0].year, min(years[-1].year, floor(held / rate)))
    just_enough = _just_in_time(years, base, work, rate)
    while end < just_enough and not _can_do(years, end, work, asked):
        end += 1
    return end


def _just_in_time(years, base: Fraction, work: float, rate: Fraction) -> int:
    spent, total, last = 0.0, base, years[0].year
    for year in years:
        need = max(Fraction(year.already_replaced, year.pool), rate * year.year - total)
        spent += float(need * year.pool) - year.already_replaced
        if spent > work * 0.97:
            break
        total, last = total + need, year.year
    return last


def _can_do(years, end: int, work: float, asked: PlanAsked) -> bool:
    within = [year for year in years if year.year <= end]
    capacities = [
        capacity_of(year, asked, crews)
        for year in within
        if (crews := asked.crews_in(year.year)) is not None
    ]
    if len(capacities) == len(within) and sum(capacities) < work * 1.03:
        return False
    money = [asked.budget_in(year.year) for year in within]
    known = [dollars for dollars in money if dollars is not None]
    if len(known) < len(money):
        return True
    looking = sum(year.unknown for year in years) * asked.cost_per_inspection
    return sum(known) >= work * asked.cost_per_job * 1.03 + looking


def _ending_note(years, end: int) -> tuple[str, ...]:
    if end == years[-1].year:
        return ()
    day = next(year.last_day for year in years if year.year == end)
    return (
        f"The plan finishes by {day_told(day)} (program year {end}): the pool keeps replaced "
        f"lines, so from program year {end + 1} on too few lines would be left to hold the "
        "required average. A program without lead, GRR and unknown lines is complete and is "
        "asked for no rate.",
    )
