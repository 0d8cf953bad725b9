"""The rule's values in force: federal, and over them the State's and the utility's own."""

from dataclasses import replace

from services_inventory.domain.regulation import Rules

from .domain.regulation import program_rules
from .models import RuleOverride, Utility


def rules_in_force() -> Rules:
    """Return all values, with the recorded overrides laid over them.

    Raises
    ------
    UnknownRule or BadRule: an override names no known value or contradicts another.
    """
    federal = program_rules()
    overrides = list(RuleOverride.objects.order_by("id"))
    if not overrides:
        return federal
    return federal.with_overrides(_value(federal, override) for override in overrides)


def _value(federal: Rules, override: RuleOverride):
    base = federal.get(override.value_id, override.effective_from)
    return replace(
        base,
        value=override.value,
        effective_from=override.effective_from,
        effective_to=override.effective_to,
        jurisdiction=override.jurisdiction,
        citation=override.citation or base.citation,
        author=override.author,
        reason=override.reason,
        read_on=override.recorded_at.date(),
    )


def never_had_lead() -> bool:
    """Tell whether the utility's records show that it never had lead service lines."""
    return bool(Utility.objects.values_list("never_had_lead", flat=True).order_by("id").first())
