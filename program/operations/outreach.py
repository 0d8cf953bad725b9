"""Outreach: who is on the list, what was sent or said to them, with proof."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import IO

from django.db import transaction

from program.models import OutreachAct, OutreachPartner
from program.operations.deadlines import proof_store
from services_inventory.domain.days import day_told
from services_inventory.refused import Refused


@transaction.atomic
def partner_add(
    *, audience: str, name: str, reached_at: str, since: date, by: str, at: datetime, today: date
) -> OutreachPartner:
    """Put somebody on the list.

    Raises
    ------
    Refused: they are on it already, or the day lies ahead.
    """
    if since > today:
        raise Refused(f"{day_told(since)} lies ahead; give today or an earlier day.")
    listed = OutreachPartner.objects.standing().filter(audience=audience, name__iexact=name.strip())
    if listed.exists():
        raise Refused(f"{name.strip()} is on the list already.")
    return OutreachPartner.objects.create(
        audience=audience, name=name.strip(), reached_at=reached_at.strip(), since=since,
        recorded_by=by, recorded_at=at,
    )  # fmt: skip


@transaction.atomic
def outreach_record(
    *, partners: Sequence[OutreachPartner], done_on: date, what: str, by: str, at: datetime,
    today: date, proof: IO | None = None, proof_words: str = "",
) -> OutreachAct:  # fmt: skip
    """Record what was sent or said to some of the list.

    Raises
    ------
    Refused: the day lies ahead, or nothing proves it.
    DocumentRefused: the proof is too large, or no PDF, JPEG or PNG.
    """
    if done_on > today:
        raise Refused(f"{day_told(done_on)} lies ahead; record it once it is done.")
    if proof is None and not proof_words.strip():
        raise Refused("Attach the proof, or say where it is.")
    act = OutreachAct.objects.create(
        done_on=done_on, what=what.strip(), proof_words=proof_words.strip(),
        proof=proof_store(file=proof, by=by, at=at) if proof else None,
        recorded_by=by, recorded_at=at,
    )  # fmt: skip
    act.partners.set(partners)
    return act
