"""Ticking off a value of the rule after reading the rule's own text."""

from datetime import datetime

from django.utils.timezone import localdate

from program.models import ValueTick
from program.rules import rules_in_force
from services_inventory.domain.allowed import shown
from services_inventory.domain.regulation import RegulationError
from services_inventory.refused import Refused


def value_tick(
    *, value_id: str, confirms: bool, citation: str, text: str, read_where: str, by: str,
    at: datetime,
) -> ValueTick:  # fmt: skip
    """Record that somebody read the rule's own text for a value: what it says, and where.

    It holds for what the value says now; a changed value has to be read again. A later reading
    takes the place of an earlier one, which stays readable.

    confirms : whether the text says what the value says

    Raises
    ------
    Refused: no value has this id, none is in force, or it lacks the paragraph or its place.
    """
    if not (citation.strip() and text.strip() and read_where.strip()):
        raise Refused("Give the paragraph's text, its citation, and where it was read.")
    try:
        value = rules_in_force().get(value_id, localdate(at))
    except RegulationError as error:
        raise Refused(str(error)) from error
    return ValueTick.objects.create(
        value_id=value_id, value=shown(value.value)[:200], confirms=confirms,
        citation=citation.strip()[:200], text=text.strip(), read_where=read_where.strip()[:300],
        ticked_by=by, ticked_at=at,
    )  # fmt: skip
