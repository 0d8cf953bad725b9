"""Ticking off a value of the rule after reading the rule's own text."""

from datetime import datetime

from django.utils.timezone import localdate

from program.models import ValueTick
from program.rules import rules_in_force
from services_inventory.domain.allowed import shown
from services_inventory.domain.regulation import RegulationError


class TickRefused(Exception):
    """The value cannot be ticked off; the message says why."""


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
