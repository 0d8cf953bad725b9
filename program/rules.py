"""The rule's values in force: federal, and over them the State's and the utility's own."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from typing import NamedTuple

from django.utils.timezone import localdate

from services_inventory.asked_once import once, settled
from services_inventory.domain.allowed import NotAllowed
from services_inventory.domain.regulation import BadRule, RegulationError, Rules, Value

from .clock import today
from .domain.coherence import Fault, faults
from .domain.own_values import Act, OwnRow, Period, periods
from .domain.regulation import program_rules
from .domain.utility_facts import utility_facts
from .models import OwnValue
from .utility import the_utility


class Known(NamedTuple):
    """The values as known at a moment, and what is wrong with them."""

    rules: Rules
    faults: list[Fault]


class WrongValues(BadRule):
    """What was recorded can't be computed by; nothing is, until it is taken back."""


def rules_in_force(known_at: datetime | None = None) -> Rules:
    """Return all values, with those recorded (by a moment, if given) laid over them.

    Raises
    ------
    WrongValues: a recorded value can't be what it is recorded for, or contradicts another.
    """
    known = rules_known(known_at)
    if known.faults:
        raise WrongValues(" ".join(fault.sentence for fault in known.faults))
    return known.rules


def rules_known(known_at: datetime | None = None) -> Known:
    """Return the values that can be read, and the faults of the rest; never raises for them."""
    if known_at is None:
        return _known_now()
    rows = [row for row in own_values_now() if row.recorded_at <= known_at]
    return _laid_over(rows, localdate(known_at))


@settled
@once
def _known_now() -> Known:
    return _laid_over(own_values_now(), today())


@once
def own_values_now() -> list[OwnValue]:
    """Return every row of the State's and the utility's own values, oldest first."""
    return list(OwnValue.objects.order_by("id"))


def _laid_over(rows: Iterable[OwnValue], day: date) -> Known:
    federal = replace(program_rules(), day=day)
    rows = [row for row in rows if row.value_id not in utility_facts()]
    if not rows:
        return Known(federal, [])
    said = periods_of(rows)
    values, wrong = [], []
    for row in rows:
        period = said.get(row.pk)
        if period is None or period.is_empty:
            continue
        try:
            value = override_value(federal, row, period.until)
            federal.with_overrides([value])
            values.append(value)
        except RegulationError as error:
            wrong.append(Fault((row.value_id,), str(error)))
    rules = federal.with_overrides(values)
    return Known(rules, wrong or _contradictions(rules, day))


def _contradictions(rules: Rules, day: date) -> list[Fault]:
    """Look at the day, and at every later one on which a value of one's own begins or ends."""
    own = [row for row in rules.values if row.author]
    days = {at for row in own for at in (row.effective_from, row.effective_to) if at and at > day}
    found = [fault for on in (day, *sorted(days)) for fault in faults(replace(rules, day=on), on)]
    return list(dict.fromkeys(found))


def periods_of(rows: Iterable[OwnValue]) -> dict[int, Period]:
    """Return when each set value holds, by the id of its row."""
    return periods(own_rows(rows))


def own_rows(rows: Iterable[OwnValue]) -> list[OwnRow]:
    """Return recorded rows as the domain reads them."""
    return [
        OwnRow(
            id=row.pk,
            act=Act(row.act),
            value_id=row.value_id,
            jurisdiction=row.jurisdiction,
            effective_from=row.effective_from,
            about=row.about_id,
        )
        for row in rows
    ]


def override_value(federal: Rules, row: OwnValue, until: date | None = None) -> Value:
    """Return a recorded row as a value of the rule, checked by the range of the one it replaces.

    Raises
    ------
    UnknownRule or BadRule: no value has this id, nobody but the federal rule sets it, or what is
        recorded can't be it.
    """
    base = replaced_value(federal, row.value_id, row.effective_from)
    if base.allowed is None:
        raise BadRule(f"{base.id} is the federal rule's own; no State or utility sets it.")
    try:
        value = base.allowed.take(row.value)
    except NotAllowed as error:
        raise BadRule(f"{base.id}, {row.jurisdiction.lower()} value: {error}") from error
    return replace(
        base,
        value=value,
        effective_from=row.effective_from,
        effective_to=until,
        jurisdiction=row.jurisdiction,
        citation=row.citation or base.citation,
        source=f"{row.jurisdiction.lower()} value by {row.author}: {row.reason}",
        source_url=None,
        author=row.author,
        reason=row.reason,
        read_on=localdate(row.recorded_at),
    )


def replaced_value(federal: Rules, value_id: str, day: date) -> Value:
    """Return the federal value of a day, which a State's or utility's own stands over.

    Raises
    ------
    UnknownRule: no value has this id.
    """
    rows = federal.all(value_id)
    return next((row for row in rows if row.holds_on(day)), rows[-1])


def utility_facts_on(day: date, known_at: datetime | None = None) -> dict[str, object]:
    """Return the utility's facts as they were on a day, as known at a moment if given.

    Before the first row of a fact holds what that row found.
    """
    utility = the_utility()
    facts = {fact: getattr(utility, fact, None) for fact in utility_facts()}
    rows = [row for row in own_values_now() if row.value_id in facts]
    facts |= {row.value_id: row.before for row in reversed(rows) if row.act == Act.SET}
    known = [row for row in rows if known_at is None or row.recorded_at <= known_at]
    said = periods_of(known)
    in_force = (row for row in known if row.pk in said and said[row.pk].holds_on(day))
    return facts | {row.value_id: row.value for row in in_force}


def never_had_lead(as_of: date | None = None) -> bool:
    """Tell whether the records show, on a day, that the utility never had lead service lines."""
    return utility_facts_on(as_of or today())["never_had_lead"] is True
