"""The deferred and the shortened deadline.

A system with a high proportion of known lead and GRR lines may take longer than ten years: when
ten percent of those lines is more than 39 per 1,000 service connections, it replaces that
number a year instead (40 CFR 141.84(d)). Where the State finds more to be feasible it shortens
the deadline, and the rate for D program years is 1/D.
"""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil, floor

from program.domain.calendar import program_year, program_year_bounds
from program.domain.regulation import RULES
from services_inventory.domain.days import add_months, day_told
from services_inventory.domain.labels import Labeled
from services_inventory.domain.regulation import Rules


class DeadlineKind(Labeled):
    """Which replacement deadline a system is on."""

    STANDARD = "STANDARD", "Ten-year"
    SHORTENED = "SHORTENED", "Shortened"
    DEFERRED = "DEFERRED", "Deferred"


@dataclass(frozen=True)
class Deferral:
    """Whether a deadline may be deferred, and to what; the ordinary deadline where it may not.

    annual_number : lines a year, exact
    years : program years, exact
    rate : required cumulative average rate, share of the pool
    """

    eligible: bool
    annual_number: Fraction
    years: Fraction
    rate: Fraction


@dataclass(frozen=True)
class Deadline:
    """The replacement deadline a system is on, the rate it asks for and where both come from."""

    kind: DeadlineKind
    last_day: date
    rate: Fraction
    rule_id: str
    how_computed: str
    validation_day: date | None = None


def deferral(
    known_lead_and_grr: int, connections: int, pool: int | None = None, *, rules: Rules = RULES
) -> Deferral:
    """Test for a deferred deadline and compute its annual number, length and rate.

    known_lead_and_grr : lines known to be lead or GRR; only these open the door
    connections : service connections of the system
    pool : the whole replacement pool, given where the State divides that by the annual number

    Raises
    ------
    ValueError: a count is negative, there are no connections, or the pool is empty.

    Source: 40 CFR 141.84(d); rule values DEFERRAL_SHARE, DEFERRAL_TEST_RATE.

    Examples
    --------
    >>> deferral(391, 1000).eligible, deferral(390, 1000).eligible
    (True, False)
    """
    _check(known_lead_and_grr, connections, pool)
    annual = rules.latest("DEFERRAL_SHARE").value * connections
    if not rules.latest("DEFERRAL_TEST_RATE").value * known_lead_and_grr > annual:
        ordinary = Fraction(rules.latest("PROGRAM_YEARS").value)
        return Deferral(False, annual, ordinary, rules.latest("REQUIRED_RATE").value)
    years = Fraction(known_lead_and_grr if pool is None else pool) / annual
    return Deferral(True, annual, years, 1 / years)


def deferral_by_setting(
    known_lead_and_grr: int, connections: int, pool: int, rules: Rules = RULES
) -> Deferral:
    """As `deferral`, dividing what the rule value DEFERRAL_NUMERATOR names: KNOWN or POOL."""
    numerator = rules.latest("DEFERRAL_NUMERATOR").value
    if numerator not in ("KNOWN", "POOL"):
        raise ValueError(f"DEFERRAL_NUMERATOR is {numerator!r}; it may be KNOWN or POOL.")
    whole = pool if numerator == "POOL" else None
    return deferral(known_lead_and_grr, connections, whole, rules=rules)


def _check(known: int, connections: int, pool: int | None) -> None:
    if known < 0:
        raise ValueError(f"The number of known lead and GRR lines is {known}; give 0 or more.")
    if connections <= 0:
        raise ValueError(f"The system has {connections} service connections; give at least 1.")
    if pool is not None and pool < 1:
        raise ValueError(f"The replacement pool is {pool}; give at least 1.")


def shown_annual_number(found: Deferral, rules: Rules = RULES) -> int:
    """The annual number in whole lines, rounded as DEFERRAL_ANNUAL_ROUNDING says."""
    return _whole(found.annual_number, rules.latest("DEFERRAL_ANNUAL_ROUNDING").value)


def years_and_months(years: Fraction, rules: Rules = RULES) -> tuple[int, int]:
    """A length in years and whole months, rounded as DEFERRAL_LENGTH_ROUNDING says.

    Examples
    --------
    >>> years_and_months(Fraction(500, 39))
    (12, 9)
    """
    return divmod(_whole(years * 12, rules.latest("DEFERRAL_LENGTH_ROUNDING").value), 12)


def _whole(number: Fraction, way: str) -> int:
    if way not in ("UP", "DOWN"):
        raise ValueError(f"A rounding is {way!r}; it may be UP or DOWN.")
    return ceil(number) if way == "UP" else floor(number)


def standard_deadline(rules: Rules = RULES) -> Deadline:
    """The ordinary deadline: ten program years at ten percent."""
    found = rules.latest("REPLACEMENT_DEADLINE")
    years = rules.latest("PROGRAM_YEARS").value
    return Deadline(
        DeadlineKind.STANDARD,
        found.value,
        rules.latest("REQUIRED_RATE").value,
        "REPLACEMENT_DEADLINE",
        f"Ordinary deadline of {years} program years.",
    )


def shortened_deadline(
    last_day: date, set_on: date, *, letter: str = "", rate: Fraction | None = None,
    validation_day: date | None = None, rules: Rules = RULES,
) -> Deadline:  # fmt: skip
    """A deadline the State has shortened; for D program years the rate is 1/D unless it set one.

    Raises
    ------
    ValueError: the day is before the compliance date or later than the ordinary deadline.
    """
    years = program_year(last_day, rules)
    ordinary = rules.latest("REPLACEMENT_DEADLINE").value
    if years is None or last_day >= ordinary:
        raise ValueError(
            f"A shortened deadline of {day_told(last_day)} does not lie between the compliance "
            "date "
            f"and the ordinary deadline, {day_told(ordinary)}."
        )
    cited = f" ({letter})" if letter else ""
    return Deadline(
        DeadlineKind.SHORTENED,
        last_day,
        Fraction(1, years) if rate is None else rate,
        "PROGRAM_YEARS",
        f"Set by the State on {day_told(set_on)}{cited}: {years} program years.",
        validation_day,
    )


def deferred_deadline(
    found: Deferral, *, validation_day: date | None = None, rules: Rules = RULES
) -> Deadline:
    """A deferred deadline: the end of its whole program years and months.

    Raises
    ------
    ValueError: the system is not eligible for a deferred deadline.
    """
    if not found.eligible:
        raise ValueError("The system is not eligible for a deferred deadline; the ordinary holds.")
    years, months = years_and_months(found.years, rules)
    number = shown_annual_number(found, rules)
    return Deadline(
        DeadlineKind.DEFERRED,
        add_months(program_year_bounds(years, rules)[1], months),
        found.rate,
        "DEFERRAL_SHARE",
        f"Deferred: {years} program years and {months} months at {number:,} lines a year.",
        validation_day,
    )


def deadline_in_force(rules: Rules, as_of: date | None = None) -> Deadline:
    """Return the replacement deadline: the ordinary one, or the one that the State set.

    as_of : the day it stood on, so that what the State set for later does not count

    A State's own REPLACEMENT_DEADLINE before the federal day is a shortened deadline, one after
    it a deferred one; its rate is the State's REQUIRED_RATE where there is one.
    """
    if as_of is not None:
        begun = (
            row for row in rules.values if not row.effective_from or row.effective_from <= as_of
        )
        rules = Rules(tuple(begun), as_of)
    set_day, set_rate = rules.latest("REPLACEMENT_DEADLINE"), rules.latest("REQUIRED_RATE")
    ordinary = RULES.latest("REPLACEMENT_DEADLINE").value
    if set_day.jurisdiction == "FEDERAL" or set_day.value == ordinary:
        return standard_deadline(rules)
    own_rate = None if set_rate.jurisdiction == "FEDERAL" else set_rate.value
    if set_day.value < ordinary:
        return shortened_deadline(
            set_day.value, set_day.read_on, letter=set_day.citation, rate=own_rate, rules=RULES
        )
    how = f"Deferred, as accepted by the State on {day_told(set_day.read_on)} ({set_day.citation})."
    return Deadline(
        DeadlineKind.DEFERRED, set_day.value, set_rate.value, "REPLACEMENT_DEADLINE", how
    )
