"""Ticking off a value of the rule after reading the rule's own text, and setting one's own."""

from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from program.domain.regulation import program_rules
from program.models import RuleOverride, ValueTick
from program.queries.rule_values import shown
from program.rules import override_value, rules_in_force
from services_inventory.domain.regulation import RegulationError


class TickRefused(Exception):
    """The value cannot be ticked off or set; the message says why."""


def value_tick(*, value_id: str, read_where: str, by: str, at: datetime) -> ValueTick:
    """Record that somebody read the rule's own text for a value, and where.

    A tick holds for what the value says now; a changed value has to be read again.

    Raises
    ------
    TickRefused: no value has this id, none is in force, or nobody says where it was read.
    """
    if not read_where.strip():
        raise TickRefused("Say where the rule's text was read: the paragraph and the edition.")
    try:
        value = rules_in_force().get(value_id, localdate(at))
    except RegulationError as error:
        raise TickRefused(str(error)) from error
    said = {
        "value": shown(value.value)[:200],
        "read_where": read_where.strip()[:300],
        "ticked_by": by,
        "ticked_at": at,
    }
    return ValueTick.objects.update_or_create(value_id=value_id, defaults=said)[0]


@transaction.atomic
def value_override(
    *,
    value_id: str,
    value: object,
    jurisdiction: str,
    effective_from: date,
    author: str,
    reason: str,
    at: datetime,
    effective_to: date | None = None,
    citation: str = "",
) -> RuleOverride:
    """Record the State's, the locality's or the utility's own value, with author and reason.

    Raises
    ------
    TickRefused: it is not of the kind of the value it replaces, contradicts another of the same
        jurisdiction, or lacks an author or a reason. Nothing is recorded then.
    """
    override = RuleOverride(
        value_id=value_id,
        value=value,
        jurisdiction=jurisdiction,
        effective_from=effective_from,
        effective_to=effective_to,
        citation=citation,
        author=author,
        reason=reason,
        recorded_at=at,
    )
    if effective_to is not None and effective_to <= effective_from:
        raise TickRefused("The first day it no longer holds must be after the first day it holds.")
    federal = program_rules()
    try:
        override_value(federal, override)
        override.save()
        rules_in_force()
    except RegulationError as error:
        raise TickRefused(str(error)) from error
    return override
