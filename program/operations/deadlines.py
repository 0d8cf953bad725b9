"""Saying that a thing that was due is done, with its proof; taken back by a new entry."""

from datetime import date, datetime

from django.db import transaction

from program.models import DoneMark
from services_inventory.domain.days import day_told


class DoneRefused(Exception):
    """It cannot be recorded as done; the message says why."""


@transaction.atomic
def deadline_done(
    *, key: str, what: str, done_on: date, proof: str, by: str, at: datetime, today: date
) -> DoneMark:
    """Record that a thing that was due is done, on which day, and where the proof is.

    Raises
    ------
    DoneRefused: the day is still to come, no proof is named, or it is recorded as done already.
    """
    if done_on > today:
        raise DoneRefused(f"{day_told(done_on)} is still to come; record it once it is done.")
    if not proof.strip():
        raise DoneRefused("Say where the proof is, for instance the file or the letter's date.")
    if DoneMark.objects.filter(key=key, withdrawn_at__isnull=True).exists():
        raise DoneRefused("This is recorded as done already.")
    return DoneMark.objects.create(
        key=key,
        what=what,
        done_on=done_on,
        proof=proof.strip(),
        recorded_by=by,
        recorded_at=at,
    )
