"""Where the program stands on a day: one sentence, with the numbers that it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
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
    percent,
)
from services_inventory.domain.regulation import Rules


class ProgramStatus(StrEnum):
    """Where the program stands with the rule."""

    NOT_STARTED = "NOT_STARTED"
    NOT_ASSESSED = "NOT_ASSESSED"
    MEETS = "MEETS"
    FAILS = "FAILS"
    COMPLETE = "COMPLETE"
    INCOMPLETE = "INCOMPLETE"

    @property
    def label(self) -> str:
        return {"NOT_STARTED": "Not started"}.get(self) or YearStatus(self).label


@dataclass(frozen=True)
class ProgramStanding:
    """The standing on a day; numerator and denominator are those of `program_year`'s rate.

    `program_year` is the last one that is over, 0 when none is; `to_replace` is what the running
    year still needs to keep the cumulative average at the required rate, None when not known.
    """

    status: ProgramStatus
    sentence: str
    as_of: date
    program_year: int
    numerator: int | None
    denominator: int | None
    cumulative: Fraction | None
    required_rate: Fraction
    remaining: int
    to_replace: int | None = None


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
            f"There are figures for program year {len(years)}, which has not begun on {as_of}."
        )
    filled = [*years, *[YearRecord(None, 0)] * (over - len(years))]
    assessed = assess(
        filled,
        deadline.rate,
        first_assessed_year=rules.latest("FIRST_ASSESSED_YEAR").value,
    )
    last = assessed[over - 1] if over else None
    status = _status(running, last, remaining)
    record = filled[over - 1] if over else YearRecord(None, 0)
    to_replace = _to_replace(filled, over, running, deadline, remaining)
    sentence = _sentence(status, record, over, last, deadline, remaining, to_replace, as_of, rules)
    return ProgramStanding(
        status,
        sentence,
        as_of,
        over,
        record.replaced if over else None,
        record.pool,
        last.cumulative if last else None,
        deadline.rate,
        remaining,
        to_replace,
    )


def _status(running: int, last: YearAssessment | None, remaining: int) -> ProgramStatus:
    if remaining == 0:
        return ProgramStatus.COMPLETE
    if not running:
        return ProgramStatus.NOT_STARTED
    if last is None:
        return ProgramStatus.NOT_ASSESSED
    if last.status is YearStatus.COMPLETE:
        return ProgramStatus.INCOMPLETE
    return ProgramStatus(last.status)


def _to_replace(
    filled: Sequence[YearRecord], over: int, running: int, deadline: Deadline, remaining: int
) -> int | None:
    before = filled[:over]
    if remaining == 0 or over == running or len(filled) < running:
        return None
    now = filled[running - 1]
    if now.pool is None or any(year.pool is None for year in before):
        return None
    return max(0, needed_in_next_year(before, now.pool, deadline.rate) - now.replaced)


def _sentence(
    status, record, over, last, deadline, remaining, to_replace, as_of, rules
) -> str:  # fmt: skip
    parts = [_opening(status, record, over, last, deadline, remaining)]
    if to_replace is not None:
        until = program_year_bounds(over + 1, rules)[1]
        parts.append(
            f"To hold {percent(deadline.rate)} on average, {to_replace:,} more by {until}."
        )
    return " ".join([*parts, f"As of {as_of}."])


def _opening(status, record, over, last, deadline, remaining) -> str:
    if status is ProgramStatus.COMPLETE:
        return "No lead, GRR or unknown line remains: the program is complete."
    left = f"{remaining:,} lead, GRR and unknown lines remain."
    if status is ProgramStatus.NOT_STARTED:
        return f"Mandatory replacement has not begun; {left}"
    if last is None:
        return f"Program year 1 is under way; nothing is assessed yet; {left}"
    if status is ProgramStatus.INCOMPLETE:
        return f"The replacement pool of a program year up to {over} is missing or 0; {left}"
    return (
        f"Program year {over}: {record.replaced:,} of {record.pool:,} lines replaced, "
        f"{percent(last.annual)}; cumulative average {percent(last.cumulative)}, required "
        f"{percent(deadline.rate)} ({deadline.kind.label.lower()} deadline, {deadline.last_day}): "
        f"{status.label.lower()}. {left}"
    )
