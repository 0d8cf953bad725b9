"""What values of one's own would move: figures as they are, and as they would be."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from program.domain.deadlines import SubjectKind
from program.domain.replacement_pool import PoolBasis, pool_basis
from program.domain.shares import percent
from program.queries.deadlines.calendar import deadlines_on, told
from program.queries.rates import Rate, rate_on
from program.rules import rules_in_force
from services_inventory.domain.days import day_told
from services_inventory.domain.evidence import PoolStatus
from services_inventory.domain.regulation import Rules
from services_inventory.domain.validation import required_validations
from services_inventory.models import ServiceLine
from services_inventory.policy import classification_policy, evidence_policy
from services_inventory.queries.counts import Move
from services_inventory.queries.counts_now import category_counts_now

_IN_POOL = PoolStatus.IN.value
_CATEGORIES = {"LEAD": "Lead", "GRR": "Galvanized requiring replacement", "UNKNOWN": "Unknown",
               "NON_LEAD": "Non-lead"}  # fmt: skip
MOST_DAYS = 60  # moved deadlines that are named; the others are counted


@dataclass
class Figures:
    """Figures by what a page calls them, in its order; deadlines by their key."""

    lines: dict[str, str] = field(default_factory=dict)
    pool: dict[str, str] = field(default_factory=dict)
    rate: dict[str, str] = field(default_factory=dict)
    days: dict[str, tuple[str, str]] = field(default_factory=dict)
    cut: tuple[str, ...] = ()


def weighed_by(on: date) -> tuple:
    """Return all that standings of a day follow from besides evidence: equal, no line moves."""
    rules = rules_in_force()
    points = ("VALIDATION_POINTS", "VALIDATION_POINTS_PER_PORTION")
    return (
        evidence_policy(on),
        classification_policy(on),
        *(rules.latest(rule_id).value for rule_id in points),
    )


def figures_of(on: date, moves: Iterable[Move] = ()) -> Figures:
    """Return the figures of a day by the values in force, with lines moved as told."""
    rules, counts = rules_in_force(), dict(category_counts_now())
    to_validate = ServiceLine.objects.filter(category="NON_LEAD", validation=_IN_POOL).count()
    for move in moves:
        for category, lines in ((move.category, -move.lines), (move.new_category, move.lines)):
            if category in counts:
                counts[category] += lines
        to_validate -= _counts_as_open(move.category, move.validation) * move.lines
        to_validate += _counts_as_open(move.new_category, move.new_validation) * move.lines
    deadlines = deadlines_on(on)
    return Figures(
        {name: f"{counts[key]:,}" for key, name in _CATEGORIES.items()},
        _pool(counts, to_validate, rules),
        _rate(rate_on(on, counts)),
        {
            told(due.key): (_titled(due), day_told(due.due_on))
            for due in sorted(deadlines.dues, key=lambda due: due.due_on)
        },
        deadlines.cut,
    )


def _counts_as_open(category: str | None, validation: str) -> bool:
    return category == "NON_LEAD" and validation == _IN_POOL


def _titled(due) -> str:
    about = "" if due.subject.kind is SubjectKind.PROGRAM else f", {due.subject.id}"
    return f"{due.what}{about}"


def _pool(counts: dict[str, int], to_validate: int, rules: Rules) -> dict[str, str]:
    in_all = sum(counts[key] for key in ("LEAD", "GRR", "UNKNOWN"))
    controlled = pool_basis(rules) is PoolBasis.UNDER_CONTROL
    return {
        "Lines in the pool's categories": f"{in_all:,}",
        "Which of them count": "those under the system's control" if controlled else "all",
        "Non-lead lines in the validation pool": f"{to_validate:,}",
        "Of them to be validated": f"{required_validations(to_validate, rules):,}",
    }


def _rate(rate: Rate) -> dict[str, str]:
    standing, deferral = rate.standing, rate.deferral
    found = {
        "Replacement deadline": f"{day_told(rate.deadline.last_day)} "
        f"({rate.deadline.kind.label.lower()})",
        "Required average rate": _share(rate.deadline.rate),
        "Still to replace this program year": _number(standing.to_replace),
        "Needed in the next, as things stand": _number(rate.needed_next_year),
        "Where the program stands": rate.sentence,
    }
    for row in rate.years:
        if row.over:
            found[f"Program year {row.number}"] = row.assessment.status.label
    if deferral is None:
        return found | {"Test for a deferred deadline": "not made: no connections or no pool"}
    eligible = "open" if deferral.found.eligible else "not open"
    return found | {
        "Test for a deferred deadline": f"{eligible}; {deferral.annual_number:,} lines a year"
    }


def _share(share: Fraction) -> str:
    return f"{share} ({percent(share)})"


def _number(number: int | None) -> str:
    return "not known" if number is None else f"{number:,}"


def compared(before: Figures | None, after: Figures | None) -> dict:
    """Return {section: rows of (what, now, with it)}; of deadlines, those that move, and counts.

    None on one side: the values in force there can't be computed by.
    """
    old, new = before or Figures(), after or Figures()
    said = {
        name: _rows(getattr(old, name), getattr(new, name)) for name in ("lines", "pool", "rate")
    }
    days = [
        ((new.days.get(key) or old.days[key])[0], _day(old, key), _day(new, key))
        for key in dict.fromkeys((*new.days, *old.days))
        if _day(old, key) != _day(new, key)
    ]
    return said | {
        "days": days[:MOST_DAYS],
        "days_moved": len(days),
        "days_looked_at": len(new.days or old.days),
        "cut": list(dict.fromkeys((*old.cut, *new.cut))),
    }


def _rows(old: dict[str, str], new: dict[str, str]) -> list[tuple[str, str, str]]:
    names = dict.fromkeys((*old, *new))
    return [(name, old.get(name, "–"), new.get(name, "–")) for name in names]


def _day(figures: Figures, key: str) -> str:
    return figures.days.get(key, ("", "none"))[1]
