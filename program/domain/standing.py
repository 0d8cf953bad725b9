"""Where the program stands on a day: one sentence, with the numbers that it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from program.domain.calendar import last_finished_year, program_year, program_year_bounds
from program.domain.deferral import Deadline
from program.domain.regulation import RULES
from program.domain.replacement_rate import (
    YearAssessment,
    YearRecord,
    YearStatus,
    assess,
    needed_in_next_year,
)
from program.domain.shares import percent
from services_inventory.domain.days import day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Rules


class ProgramStatus(Labeled):
    """Where the program stands with the rule."""

    NOT_STARTED = "NOT_STARTED", "Not started"
    NOT_ASSESSED = "NOT_ASSESSED", "Not assessed yet"
    MEETS = "MEETS", "Meets the required rate"
    FAILS = "FAILS", "Fails the required rate"
    COMPLETE = "COMPLETE", "Complete"
    INCOMPLETE = "INCOMPLETE", "Figures missing"


@dataclass(frozen=True)
class ProgramStanding:
    """The standing at the end of a day.

    `program_year` is the last one that is over, 0 when none is; `record` and `assessment` are
    that year's. `to_replace` is what the running year still needs, by `to_replace_by`, to hold
    the required rate on average; None where there is nothing to compute it from.
    """

    status: ProgramStatus
    as_of: date
    program_year: int
    record: YearRecord | None
    assessment: YearAssessment | None
    deadline: Deadline
    remaining: int
    to_replace: int | None = None
    to_replace_by: date | None = None

    @property
    def numerator(self) -> int | None:
        """Full replacements of the last finished program year."""
        return self.record.replaced if self.record else None

    @property
    def denominator(self) -> int | None:
        """Lines in that program year's pool."""
        return self.record.pool if self.record else None

    @property
    def cumulative(self) -> Fraction | None:
        """Cumulative average rate at the end of that program year, share of 1."""
        return self.assessment.cumulative if self.assessment else None

    @property
    def required_rate(self) -> Fraction:
        """The rate the deadline asks for, share of 1."""
        return self.deadline.rate

    @property
    def sentence(self) -> str:
        """All of it in words, with the day it holds for."""
        parts = [self._opening()]
        if self.to_replace is not None and self.to_replace_by is not None:
            parts.append(
                f"To hold {percent(self.required_rate)} on average, "
                f"{self.to_replace:,} more by {day_told(self.to_replace_by)}."
            )
        return " ".join([*parts, f"As of {day_told(self.as_of)}."])

    def _opening(self) -> str:
        left = f"{self.remaining:,} lead, GRR and unknown lines remain."
        if self.status is ProgramStatus.COMPLETE:
            return "No lead, GRR or unknown line remains: the program is complete."
        if self.status is ProgramStatus.NOT_STARTED:
            return f"Mandatory replacement has not begun; {left}"
        if self.record is None or self.assessment is None:
            return f"Program year 1 is under way; nothing is assessed yet; {left}"
        if self.status is ProgramStatus.INCOMPLETE:
            year = self.program_year
            return f"The replacement pool of a program year up to {year} is missing or 0; {left}"
        return (
            f"Program year {self.program_year}: {self.record.replaced:,} of "
            f"{self.record.pool:,} lines replaced, {percent(self.assessment.annual)}; cumulative "
            f"average {percent(self.cumulative)}, required {percent(self.required_rate)} "
            f"({self.deadline.kind.label.lower()} deadline, {day_told(self.deadline.last_day)}): "
            f"{self.status.label.lower()}. {left}"
        )


def standing_of_program(
    years: Sequence[YearRecord],
    remaining: int,
    deadline: Deadline,
    as_of: date,
    rules: Rules = RULES,
) -> ProgramStanding:
    """Say where the program stands at the end of a day.

    years : sequence of YearRecord from program year 1, the running one last if it has begun
    remaining : lead, GRR and unknown lines in the inventory on that day

    Raises
    ------
    ValueError: there are figures for a program year that has not begun.
    """
    running, over = program_year(as_of, rules) or 0, last_finished_year(as_of, rules)
    if len(years) > running:
        raise ValueError(
            f"There are figures for program year {len(years)}, which has not begun on "
            f"{day_told(as_of)}."
        )
    filled = [*years, *[YearRecord(None, 0)] * (over - len(years))]
    first_assessed = rules.latest("FIRST_ASSESSED_YEAR").value
    assessed = assess(filled, deadline.rate, first_assessed_year=first_assessed)
    last = assessed[over - 1] if over else None
    to_replace = _to_replace(filled, over, running, deadline.rate) if remaining else None
    return ProgramStanding(
        _status(running, last, remaining),
        as_of,
        over,
        filled[over - 1] if over else None,
        last,
        deadline,
        remaining,
        to_replace,
        None if to_replace is None else program_year_bounds(running, rules)[1],
    )


def _status(running: int, last: YearAssessment | None, remaining: int) -> ProgramStatus:
    if remaining == 0:
        return ProgramStatus.COMPLETE
    if not running:
        return ProgramStatus.NOT_STARTED
    if last is None:
        return ProgramStatus.NOT_ASSESSED
    # An empty pool while lines remain is a contradiction, not a finished program.
    return ProgramStatus(
        YearStatus.INCOMPLETE if last.status is YearStatus.COMPLETE else last.status
    )


def _to_replace(
    filled: Sequence[YearRecord], over: int, running: int, required_rate: Fraction
) -> int | None:
    if over == running or len(filled) < running:
        return None
    before, now = filled[:over], filled[running - 1]
    if now.pool is None or any(year.pool is None for year in before):
        return None
    return max(0, needed_in_next_year(before, now.pool, required_rate) - now.replaced)
