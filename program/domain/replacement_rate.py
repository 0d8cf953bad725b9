"""The replacement rate: a share of the pool each year, averaged over the years.

The annual rate is the number of full replacements of lead and galvanized-requiring-replacement
(GRR) lines in a program year over the pool at its start; the cumulative average is the mean of
the annual rates, which is not the total replaced over the last pool when the pool moves.
Everything is an exact fraction: 280 of 900 is never called 31% and then found good enough.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from program.domain.regulation import RULES, exact
from services_inventory.domain.labels import Labeled

REQUIRED_RATE: Fraction = RULES.latest("REQUIRED_RATE").value
FIRST_ASSESSED_YEAR: int = RULES.latest("FIRST_ASSESSED_YEAR").value


class YearStatus(Labeled):
    """What a program year's figures say."""

    NOT_ASSESSED = "NOT_ASSESSED", "Not assessed yet"
    MEETS = "MEETS", "Meets the required rate"
    FAILS = "FAILS", "Fails the required rate"
    COMPLETE = "COMPLETE", "Complete"
    INCOMPLETE = "INCOMPLETE", "Figures missing"


@dataclass(frozen=True)
class YearRecord:
    """One program year: lines in the pool at its start (None: not known), full replacements."""

    pool: int | None
    replaced: int


@dataclass(frozen=True)
class YearAssessment:
    """Rates of one program year, as shares of 1; None where the figures give no rate."""

    annual: Fraction | None
    cumulative: Fraction | None
    assessed: bool
    meets: bool | None
    status: YearStatus


def assess(
    years: Iterable[YearRecord],
    required_rate: Fraction = REQUIRED_RATE,
    *,
    first_assessed_year: int = FIRST_ASSESSED_YEAR,
) -> list[YearAssessment]:
    """Assess program years 1, 2, ... in order.

    A pool of 0 gives no rate: nothing is left to replace, the year is COMPLETE and stays out of
    the mean. A pool that is not known makes its year, and every later mean, INCOMPLETE; it is
    never taken for 0%.

    years : iterable of YearRecord, from program year 1 without a gap
    required_rate : share of the pool, such as Fraction(1, 10)
    first_assessed_year : program year

    Raises
    ------
    ValueError: a number is negative, or the rate is not a share between 0 and 1.

    Source: 40 CFR 141.84(d)(5); rule values REQUIRED_RATE and FIRST_ASSESSED_YEAR.

    Examples
    --------
    >>> [str(y.cumulative) for y in assess([YearRecord(1000, 90), YearRecord(950, 95)])]
    ['9/100', '19/200']
    """
    required = checked_rate(required_rate)
    total, counted, known = Fraction(0), 0, True
    assessments = []
    for number, year in enumerate(years, start=1):
        _check(number, year)
        known = known and year.pool is not None
        annual = Fraction(year.replaced, year.pool) if year.pool else None
        if annual is not None:
            total, counted = total + annual, counted + 1
        mean = total / counted if known and counted else None
        complete = known and year.pool == 0
        assessed = number >= first_assessed_year
        assessments.append(_assessment(annual, mean, required, assessed, known, complete))
    return assessments


def _assessment(annual, mean, required, assessed, known, complete) -> YearAssessment:
    if not known:
        return YearAssessment(annual, None, assessed, None, YearStatus.INCOMPLETE)
    if complete:
        return YearAssessment(None, mean, assessed, True if assessed else None, YearStatus.COMPLETE)
    if not assessed:
        return YearAssessment(annual, mean, False, None, YearStatus.NOT_ASSESSED)
    meets = mean >= required
    status = YearStatus.MEETS if meets else YearStatus.FAILS
    return YearAssessment(annual, mean, True, meets, status)


def _check(number: int, year: YearRecord) -> None:
    for name, count in (("pool", year.pool), ("number replaced", year.replaced)):
        if count is not None and count < 0:
            raise ValueError(f"Program year {number}: the {name} is {count}; give 0 or more.")


def checked_rate(rate: object) -> Fraction:
    """Return a required rate as an exact share.

    Raises
    ------
    ValueError: the rate is not more than 0 and at most 1; 10% is written 1/10.
    """
    share = exact(rate)
    if not 0 < share <= 1:
        raise ValueError(f"The required rate is {rate}; give a share, such as 1/10 for 10%.")
    return share


def needed_in_next_year(
    years: Sequence[YearRecord], pool: int, required_rate: Fraction = REQUIRED_RATE
) -> int:
    """Replacements of the next program year that bring the cumulative average to the required rate.

    years : sequence of YearRecord, every program year before
    pool : lines in the pool at the start of the next program year

    Raises
    ------
    ValueError: a pool of the years before is not known, so there is no mean to bring up.
    """
    if any(year.pool is None for year in years):
        raise ValueError("A replacement pool of an earlier program year is missing; enter it.")
    before = [Fraction(year.replaced, year.pool) for year in years if year.pool]
    short = checked_rate(required_rate) * (len(before) + 1) - sum(before)
    return max(0, ceil(short * pool))
