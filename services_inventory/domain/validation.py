"""Validation of non-lead lines: the pool, the number, the random draw, the result.

Source: 40 CFR 141.84(b)(5); the numbers are rule values with their own marks.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from hashlib import sha256
from itertools import islice
from math import ceil

from services_inventory.domain.classification import Category
from services_inventory.domain.evidence import PoolStatus, Portion, PortionResult, PortionStanding
from services_inventory.domain.materials import Material
from services_inventory.domain.regulation import Rules, Value, inventory_rules


@dataclass(frozen=True)
class Membership:
    """Whether a line is in the validation pool, by which rule, and why."""

    in_pool: bool
    rule_id: str
    reason: str
    status: PoolStatus | None = None


_OUT_RULES = {
    PoolStatus.OUT_BAN: ("POOL_OUT_BAN", "records show that it was laid after the lead ban"),
    PoolStatus.OUT_TWO_POINTS: ("POOL_OUT_TWO_POINTS", "it was seen at enough points"),
    PoolStatus.OUT_REPLACED: ("POOL_OUT_REPLACED", "it was replaced"),
}
_TOGETHER = "The pipe was seen at enough points on both sides together."


def membership(
    category: Category,
    portions: Iterable[PortionStanding | PortionResult],
    rules: Rules | None = None,
) -> Membership:
    """Whether a line has to be in the pool from which lines are drawn for validation.

    A line is out when each of its portions is out. Where ownership is shared, points seen on
    one portion and on the other add up, as long as each was seen.
    """
    if category != Category.NON_LEAD:
        return Membership(False, "NON_LEAD_SHOWN", f"The line is {category.label}, not non-lead.")
    pipe = [
        standing
        for standing in portions
        if standing.portion != Portion.CONNECTOR and standing.material != Material.NONE
    ]
    open_portions = [standing for standing in pipe if standing.validation == PoolStatus.IN]
    if not open_portions:
        status = _shared_status(pipe)
        return Membership(False, _OUT_RULES[status][0], _why_out(pipe), status)
    seen = _points(open_portions)
    if len(open_portions) == len(pipe) and not points_missing(seen, rules):
        status = PoolStatus.OUT_TWO_POINTS
        return Membership(False, _OUT_RULES[status][0], _TOGETHER, status)
    names = " and ".join(standing.portion.label for standing in open_portions)
    known = "are" if len(open_portions) > 1 else "is"
    points = sum(seen.values())
    reason = (
        f"The {names} {known} known by other evidence only, "
        f"seen at {points} {'point' if points == 1 else 'points'}."
    )
    return Membership(True, "POOL_IN_OTHER_RECORDS", reason, PoolStatus.IN)


def _points(portions: Iterable[PortionStanding | PortionResult]) -> dict[Portion, int]:
    return {standing.portion: standing.points for standing in portions}


def _why_out(pipe: Iterable[PortionStanding | PortionResult]) -> str:
    """Of each portion why it is out; one reason may not speak for the other portion."""
    said = (
        f"{one.portion.label}: {_OUT_RULES[one.validation][1]}" for one in pipe if one.validation
    )
    return f"{'; '.join(said)}.".capitalize()


def _shared_status(pipe: Iterable[PortionStanding | PortionResult]) -> PoolStatus:
    """The least far-reaching reason among the portions, which is the one to name."""
    order = (PoolStatus.OUT_BAN, PoolStatus.OUT_TWO_POINTS, PoolStatus.OUT_REPLACED)
    return next(status for status in order if any(p.validation == status for p in pipe))


def points_missing(points: Mapping[Portion, int], rules: Rules | None = None) -> dict[Portion, int]:
    """The points still to be seen on each unvalidated portion; empty when there are enough.

    With two unvalidated portions each is seen at least once and both together often enough;
    with one, all points are on it.
    """
    rules = rules or inventory_rules()
    total = rules.latest("VALIDATION_POINTS").value
    each = rules.latest("VALIDATION_POINTS_PER_PORTION").value if len(points) > 1 else total
    missing = {portion: each - seen for portion, seen in points.items() if seen < each}
    short = total - sum(points.values()) - sum(missing.values())
    if short > 0:
        least = min(points, key=lambda portion: (points[portion], portion))
        missing[least] = missing.get(least, 0) + short
    return missing


def required_validations(pool_size: int, rules: Rules | None = None) -> int:
    """How many lines of a pool must be validated.

    Raises
    ------
    ValueError: the pool size is below zero.

    Examples
    --------
    >>> required_validations(1500), required_validations(1501), required_validations(60_000)
    (300, 322, 384)
    """
    if pool_size < 0:
        raise ValueError(f"A pool cannot hold {pool_size} lines; count the non-lead lines again.")
    rules = rules or inventory_rules()
    if pool_size <= rules.latest("VALIDATION_SMALL_POOL_UP_TO").value:
        return ceil(pool_size * rules.latest("VALIDATION_SMALL_POOL_SHARE").value)
    for up_to, count in rules.latest("VALIDATION_TABLE").value:
        if pool_size <= up_to:
            return count
    return rules.latest("VALIDATION_LARGEST_COUNT").value


def deadline(as_of: date, rules: Rules | None = None) -> Value:
    """The day by which validation is complete, with its citation."""
    return (rules or inventory_rules()).get("VALIDATION_DEADLINE", as_of)


class Draw(list):
    """The drawn ids in the order of the draw; `reserve` holds all others, next first."""

    def __init__(self, drawn: Iterable, reserve: Iterable = ()):
        super().__init__(drawn)
        self.reserve = tuple(reserve)


def draw(line_ids: Iterable, count: int, seed: int | str) -> Draw:
    """Draw lines at random without replacement, so that anybody can repeat it.

    Every id is put in the order of SHA-256 of "seed:id", and the first `count` are drawn. The
    order depends on nothing else: not on the order of the input, nor on the version of a
    random number generator, and a line added to the pool leaves the others' order as it was.

    Raises
    ------
    ValueError: an id occurs twice, the count is below zero, or the pool is smaller than it.
    """
    ids = list(line_ids)
    if len(set(map(str, ids))) != len(ids):
        raise ValueError("An id occurs twice in the pool; every line can be drawn once.")
    if not 0 <= count <= len(ids):
        raise ValueError(f"{count} lines cannot be drawn from a pool of {len(ids)}.")
    order = sorted(ids, key=lambda line: (sha256(f"{seed}:{line}".encode()).digest(), str(line)))
    return Draw(order[:count], order[count:])


def pool_digest(line_ids: Iterable) -> str:
    """SHA-256 over the sorted ids, one a line, by which a stored pool is recognized."""
    return sha256("\n".join(sorted(map(str, line_ids))).encode()).hexdigest()


class VisitResult(StrEnum):
    """How far the validation of one drawn line has come."""

    OPEN = "OPEN"
    CONFIRMED = "CONFIRMED"
    FOUND_LEAD = "FOUND_LEAD"
    FOUND_GRR = "FOUND_GRR"
    NO_ACCESS = "NO_ACCESS"

    @property
    def is_result(self) -> bool:
        """Whether the line counts as validated."""
        return self in (VisitResult.CONFIRMED, VisitResult.FOUND_LEAD, VisitResult.FOUND_GRR)


def judge(
    category_found: Category,
    points: Mapping[Portion, int],
    accessible: bool = True,
    rules: Rules | None = None,
) -> VisitResult:
    """What the visits to one drawn line amount to.

    `category_found` is the category that follows from the evidence with the visit's own;
    `points` has each portion that had to be validated. Lead or galvanized requiring replacement
    is a finding from the first point on; non-lead is confirmed only at enough points.
    """
    if category_found == Category.LEAD:
        return VisitResult.FOUND_LEAD
    if category_found == Category.GRR:
        return VisitResult.FOUND_GRR
    if not accessible:
        return VisitResult.NO_ACCESS
    enough = bool(points) and not points_missing(points, rules)
    return (
        VisitResult.CONFIRMED
        if enough and category_found == Category.NON_LEAD
        else VisitResult.OPEN
    )


def to_visit(drawn: Draw, outcomes: Mapping[Hashable, VisitResult]) -> list:
    """The drawn lines with one of the reserve, in its order, for each that has no access.

    A reserve line with no access is itself followed by the next (rule VALIDATION_NO_ACCESS).
    """
    reserve = iter(drawn.reserve)
    visits = list(drawn)
    for line in visits:  # grows while it is read, so that a reserve line is followed too
        if outcomes.get(line) == VisitResult.NO_ACCESS:
            visits.extend(islice(reserve, 1))
    return visits


@dataclass(frozen=True)
class ValidationReport:
    """The figures of a validation, every share with its numerator and denominator."""

    as_of: date
    pool_size: int
    required: int
    validated: int
    still_to_validate: int
    no_access: int
    found_lead: tuple
    found_grr: tuple
    deadline: Value

    @property
    def found(self) -> int:
        """How many validated lines were not non-lead."""
        return len(self.found_lead) + len(self.found_grr)

    @property
    def is_complete(self) -> bool:
        """Whether the required number of lines has a result."""
        return self.still_to_validate == 0


def report(
    pool_size: int,
    drawn: Draw,
    outcomes: Mapping[Hashable, VisitResult],
    as_of: date,
    rules: Rules | None = None,
) -> ValidationReport:
    """The figures of a validation on a day, from the outcomes of the lines visited.

    Only lines of the draw and of the reserve that replaced one of them count.

    Raises
    ------
    ValueError: an outcome belongs to a line that was neither drawn nor next in the reserve.
    """
    rules = rules or inventory_rules()
    visits = to_visit(drawn, outcomes)
    strangers = sorted(set(map(str, outcomes)) - set(map(str, visits)))
    if strangers:
        raise ValueError(
            f"Line {strangers[0]} has an outcome, but was neither drawn nor next in the reserve."
        )
    reached = [(line, outcomes[line]) for line in visits if line in outcomes]
    required = required_validations(pool_size, rules)
    validated = sum(outcome.is_result for _, outcome in reached)
    return ValidationReport(
        as_of=as_of,
        pool_size=pool_size,
        required=required,
        validated=validated,
        still_to_validate=max(required - validated, 0),
        no_access=sum(outcome == VisitResult.NO_ACCESS for _, outcome in reached),
        found_lead=tuple(line for line, found in reached if found == VisitResult.FOUND_LEAD),
        found_grr=tuple(line for line, found in reached if found == VisitResult.FOUND_GRR),
        deadline=deadline(as_of, rules),
    )


def error_interval(found: int, validated: int, confidence: float = 0.95) -> tuple[float, float]:
    """The exact interval (Clopper and Pearson 1934) of the share of wrong lines in the pool.

    A help for staff, not part of the rule.

    Raises
    ------
    ValueError: no line was validated, more were found than validated, or the confidence is not
        between 0 and 1.
    """
    from scipy.special import betaincinv  # here, because scipy is slow to load and rarely needed

    if not 0 <= found <= validated or validated == 0:
        raise ValueError(f"{found} found of {validated} validated lines is not a share.")
    if not 0 < confidence < 1:
        raise ValueError(f"The confidence is {confidence}; write a number between 0 and 1.")
    tail = (1 - confidence) / 2
    low = betaincinv(found, validated - found + 1, tail) if found else 0.0
    high = betaincinv(found + 1, validated - found, 1 - tail) if found < validated else 1.0
    return float(low), float(high)
