"""The rule's values in force: federal, and over them the State's and the utility's own."""

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction

from django.db.models import QuerySet
from django.utils.timezone import localdate

from services_inventory.domain.regulation import BadRule, Rules, Value

from .asked_once import once
from .domain.regulation import program_rules
from .models import RuleOverride
from .utility import the_utility


def rules_in_force(known_at: datetime | None = None) -> Rules:
    """Return all values, with the overrides recorded (by a moment, if given) laid over them.

    Raises
    ------
    UnknownRule or BadRule: an override names no known value or contradicts another.
    """
    if known_at is None:
        return _rules_now()
    return _with(RuleOverride.objects.filter(recorded_at__lte=known_at).order_by("id"))


@once
def _rules_now() -> Rules:
    return _with(RuleOverride.objects.order_by("id"))


def _with(recorded: QuerySet[RuleOverride]) -> Rules:
    federal, overrides = program_rules(), list(recorded)
    if not overrides:
        return federal
    return federal.with_overrides(override_value(federal, override) for override in overrides)


def override_value(federal: Rules, override: RuleOverride) -> Value:
    """Return a recorded override as a value of the rule, of the kind of the value it replaces.

    Raises
    ------
    UnknownRule or BadRule: no value has this id, or what is recorded is not of its kind.
    """
    base = _replaced(federal, override)
    return replace(
        base,
        value=_of_kind(base, override.value),
        effective_from=override.effective_from,
        effective_to=override.effective_to,
        jurisdiction=override.jurisdiction,
        citation=override.citation or base.citation,
        source=f"{override.jurisdiction.lower()} value by {override.author}: {override.reason}",
        source_url=None,
        author=override.author,
        reason=override.reason,
        read_on=localdate(override.recorded_at),
    )


def _replaced(federal: Rules, override: RuleOverride) -> Value:
    rows = federal.all(override.value_id)
    return next((row for row in rows if row.holds_on(override.effective_from)), rows[-1])


def _of_kind(base: Value, recorded: object) -> object:
    """Read a recorded (JSON) value: days and exact fractions stand there as text."""
    if isinstance(recorded, list):
        return tuple(_of_kind(base, part) for part in recorded)
    if not isinstance(recorded, str):
        return recorded
    try:
        if base.unit == "date":
            return date.fromisoformat(recorded)
        if base.unit == "fraction":
            return Fraction(recorded)
    except (ValueError, ZeroDivisionError) as error:
        raise BadRule(f"{base.id}: {recorded!r} is not a value in {base.unit}.") from error
    return recorded


def never_had_lead() -> bool:
    """Tell whether the utility's records show that it never had lead service lines."""
    utility = the_utility()
    return bool(utility and utility.never_had_lead)
