"""Photos and papers of the work: kept by what they are, not by what their name says."""

from datetime import datetime

from services_inventory.models import Document
from services_inventory.operations.documents import document_store

from ..models import WorkOrder
from .pulls import owner_key_of

PHOTO_LIMIT_BYTES = 25 * 1024**2
PHOTO_TYPES = ("image/jpeg", "image/png", "image/heic", "application/pdf")


def photo_store(*, file, kind: str, work_order: WorkOrder, by: str, at: datetime) -> Document:
    """Keep a photo or a paper of an order.

    Raises
    ------
    DocumentRefused
        It is empty, larger than 25 MB, or none of JPEG, PNG, HEIC and PDF.
    """
    return document_store(
        file=file,
        name=file.name,
        kind=kind,
        by=by,
        at=at,
        allowed=PHOTO_TYPES,
        limit_bytes=PHOTO_LIMIT_BYTES,
        owner_key=owner_key_of(work_order),
    )
