"""Values of the rule that can't stand beside each other, although each alone could be right."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from program.domain.calendar import milestones, program_year_bounds
from program.domain.deferral import deadline_in_force
from replacements.domain.completion.service_return import AfterRules
from replacements.domain.consent import ConsentRules
from services_inventory.domain.evidence import EvidencePolicy
from services_inventory.domain.regulation import RegulationError, Rules, Value


@dataclass(frozen=True)
class Fault:
    """What is wrong with the values in force, in a sentence, and whose ids it is about."""

    value_ids: tuple[str, ...]
    sentence: str


# (the earlier or smaller, the later or greater, whether they may be equal)
_IN_ORDER = (
    ("COMPLIANCE_DATE", "PROGRAM_YEAR_1_END", False),
    ("COMPLIANCE_DATE", "REPLACEMENT_DEADLINE", False),
    ("FIRST_ASSESSED_YEAR", "PROGRAM_YEARS", True),
    ("FOLLOW_UP_SAMPLE_FROM_MONTHS", "FOLLOW_UP_SAMPLE_TO_MONTHS", True),
    ("CUSTOMER_INITIATED_DAYS", "CUSTOMER_INITIATED_LIMIT_DAYS", True),
    ("OWNER_CHANGE_OFFER_MONTHS", "OWNER_CHANGE_EFFORT_MONTHS", True),
    ("VALIDATION_POINTS_PER_PORTION", "VALIDATION_POINTS", True),
    ("VALIDATION_DEADLINE", "VALIDATION_RESULTS_DUE", True),
)


def faults(rules: Rules, day: date) -> list[Fault]:
    """Return every contradiction among the values of a day; empty when all is well.

    Orders are compared first; then the policies and the calendar of the day are built.
    """
    found = [*_out_of_order(rules, day), *_tables(rules, day)]
    return found or [*_unbuilt(rules, day)]


def _out_of_order(rules: Rules, day: date) -> Iterator[Fault]:
    for low_id, high_id, equal in _IN_ORDER:
        for low, high in _pairs(rules, low_id, high_id, day):
            if low.value > high.value or (low.value == high.value and not equal):
                yield Fault(
                    (low_id, high_id),
                    f"{low_id} is {low.value} and {high_id} is {high.value}: the first must be "
                    f"{'no later or greater' if equal else 'earlier'} than the second.",
                )
                break


def _pairs(rules: Rules, low_id: str, high_id: str, day: date) -> list[tuple[Value, Value]]:
    """Both values as a day has them, and as plans that are not bound to a day have them."""
    return [
        (rules.get(low_id, day), rules.get(high_id, day)),
        (rules.latest(low_id), rules.latest(high_id)),
    ]


def _tables(rules: Rules, day: date) -> Iterator[Fault]:
    table, small = rules.latest("VALIDATION_TABLE"), rules.latest("VALIDATION_SMALL_POOL_UP_TO")
    if small.value >= table.value[0][0]:
        yield Fault(
            (table.id, small.id),
            f"The first row of {table.id} ends at {table.value[0][0]} lines, and {small.id} is "
            f"{small.value}: the table begins above the small pools.",
        )
    samples = rules.get("TAP_SAMPLES", day)
    if samples.value[-1][0]:
        yield Fault((samples.id,), f"The last row of {samples.id} begins at 0 persons.")


def _unbuilt(rules: Rules, day: date) -> Iterator[Fault]:
    for build in _BUILT:
        try:
            build(rules, day)
        except (RegulationError, ValueError) as error:
            own = [row.id for row in rules.values if row.author]
            yield Fault(tuple(dict.fromkeys(own)), str(error))


_BUILT: tuple[Callable[[Rules, date], object], ...] = (
    lambda rules, day: EvidencePolicy.from_rules(day, rules),
    lambda rules, day: ConsentRules.on(rules, day),
    lambda rules, day: AfterRules.on(rules, day),
    lambda rules, day: deadline_in_force(rules),
    lambda rules, day: milestones(rules),
    lambda rules, day: program_year_bounds(1, rules),
)
