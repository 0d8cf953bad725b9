"""Saying that a thing that was due is done, with its proof."""

from datetime import date, datetime
from typing import IO

from django.db import transaction

from program.models import DoneMark
from services_inventory.domain.days import day_told
from services_inventory.models import Document
from services_inventory.operations.documents import document_store
from services_inventory.refused import Refused

PROOF_KINDS = ("application/pdf", "image/jpeg", "image/png")
PROOF_LIMIT_BYTES = 15 * 1024**2


@transaction.atomic
def deadline_done(
    *, key: str, what: str, done_on: date, proof: str, by: str, at: datetime, today: date,
    file: IO | None = None,
) -> DoneMark:  # fmt: skip
    """Record that a thing that was due is done, on which day, and where the proof is.

    file : the proof itself, open and with a name, where there is one

    Raises
    ------
    DocumentRefused: the proof is too large, or no PDF, JPEG or PNG.
    Refused: the day is still to come, no proof is named, or it is recorded as done already.
    """
    if done_on > today:
        raise Refused(f"{day_told(done_on)} is still to come; record it once it is done.")
    if not proof.strip():
        raise Refused("Say where the proof is, for instance the file or the letter's date.")
    if DoneMark.objects.standing().filter(key=key).exists():
        raise Refused("This is recorded as done already.")
    return DoneMark.objects.create(
        key=key,
        what=what,
        done_on=done_on,
        proof=proof.strip(),
        document=proof_store(file=file, by=by, at=at) if file else None,
        recorded_by=by,
        recorded_at=at,
    )


def proof_store(*, file: IO, by: str, at: datetime) -> Document:
    """Keep the proof of an act.

    Raises
    ------
    DocumentRefused: it is too large, or no PDF, JPEG or PNG.
    """
    return document_store(
        file=file, name=file.name, kind="PROOF", by=by, at=at, allowed=PROOF_KINDS,
        limit_bytes=PROOF_LIMIT_BYTES,
    )  # fmt: skip
