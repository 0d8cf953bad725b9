"""Photos as they may be kept: looked into, without metadata; where and when is read.

Every photo is decoded, and nothing but the picture is kept: as it was taken where its file allows
(`jpeg_parts`), else drawn anew. Its place and time are read first and kept beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from pathlib import PurePath

from services_inventory.apart import apart
from services_inventory.domain.content_types import content_type_of
from services_inventory.models import Document
from services_inventory.operations.documents import (
    DocumentRefused,
    NewFile,
    document_store,
    documents_store,
)

from ..models import PhotoFacts, WorkOrder
from ..operations.pulls import owner_key_of
from .pictures import PHOTO_LIMIT_BYTES, PHOTO_TYPES, CleanPhoto, PictureRefused, made_clean

KINDS = {
    "OLD_PIPE": "old pipe before it is cut",
    "LEAD_REMOVED": "lead taken out or split",
    "NEW_AT_MAIN": "new pipe at the main",
    "NEW_AT_HOUSE": "new pipe at the house",
    "RESTORED": "ground put back",
    "OTHER": "other",
}


class PhotoRefused(DocumentRefused):
    """The file cannot be kept as a photo; the message says why and what to do."""


def photo_clean(content: bytes, name: str) -> CleanPhoto:
    """Return a photo without metadata, at most 2,400 pixels a side.

    Raises
    ------
    PhotoRefused: it is too large, is no JPEG, PNG or HEIC whatever its name says, or cannot be
        decoded.
    """
    try:
        return apart(PictureRefused, made_clean, content)
    except PictureRefused as error:
        raise PhotoRefused(f"{name} {error}") from error


def photo_keep(
    *,
    work_order: WorkOrder,
    content: bytes,
    name: str,
    kind: str,
    by: str,
    at: datetime,
    place: tuple[float, float] | None = None,
) -> Document:
    """Keep a photo for an order; the same photo sent again is the same document.

    Parameters
    ----------
    kind : one of KINDS
    place : latitude and longitude of the device, for a photo that does not say where it was taken

    Raises
    ------
    PhotoRefused: the file cannot be kept as a photo, or there is no such kind.
    """
    if kind not in KINDS:
        raise PhotoRefused(f"There is no kind of photo {kind!r}; there are {', '.join(KINDS)}.")
    clean = photo_clean(content, name)
    if clean.latitude is None and place is not None:
        clean = replace(clean, latitude=place[0], longitude=place[1])
    (document,) = photos_keep(
        work_order=work_order, photos=[(f"PHOTO_{kind}", name, clean)], by=by, at=at
    )
    return document


def photos_keep(
    *,
    work_order: WorkOrder,
    photos: Sequence[tuple[str, str, CleanPhoto]],
    by: str,
    at: datetime,
    owner_key: str = "",
) -> list[Document]:
    """Keep photos that were made clean for an order, with what they said of place and time.

    Parameters
    ----------
    photos : (kind of document, name, photo) of each
    """
    documents = documents_store(
        files=[
            NewFile(clean.jpeg, _as_jpeg(name), kind, clean.sha256) for kind, name, clean in photos
        ],
        by=by,
        at=at,
        allowed=("image/jpeg",),
        limit_bytes=PHOTO_LIMIT_BYTES,
        owner_key=owner_key or owner_key_of(work_order),
    )
    PhotoFacts.objects.bulk_create(
        [
            PhotoFacts(
                document=document,
                work_order=work_order,
                latitude=clean.latitude,
                longitude=clean.longitude,
                taken_at=clean.taken_at,
                distance_m=_distance_to(work_order, clean),
                original_sha256=clean.original_sha256,
                likeness=clean.likeness,
                brightness=clean.brightness,
            )
            for document, (_, _, clean) in zip(documents, photos, strict=True)
        ],
        ignore_conflicts=True,
    )
    return documents


def paper_keep(
    *,
    file,
    kind: str,
    by: str,
    at: datetime,
    work_order: WorkOrder | None = None,
    owner_key: str = "",
) -> Document:
    """Keep a photo or a paper of the work: a picture made clean, a PDF as it is.

    Parameters
    ----------
    kind : the kind of the document, such as PHOTO_OLD_PIPE or CONSENT
    work_order : the order it was sent for; where a picture was taken is kept beside it
    owner_key : whose it is, where it is not the order's contractor's

    Raises
    ------
    DocumentRefused: it is empty, larger than 25 MB, or none of JPEG, PNG, HEIC and PDF.
    """
    content, name = file.read(PHOTO_LIMIT_BYTES + 1), file.name
    is_picture = content_type_of(content[:4096]) in PHOTO_TYPES
    if is_picture:
        clean = photo_clean(content, name)
        if work_order:
            return photos_keep(
                work_order=work_order, photos=[(kind, name, clean)], by=by, at=at,
                owner_key=owner_key,
            )[0]  # fmt: skip
        content, name = clean.jpeg, _as_jpeg(name)
    return document_store(
        file=BytesIO(content),
        name=name,
        kind=kind,
        by=by,
        at=at,
        allowed=("image/jpeg", "application/pdf"),
        limit_bytes=PHOTO_LIMIT_BYTES,
        owner_key=owner_key or (owner_key_of(work_order) if work_order else ""),
    )


def _as_jpeg(name: str) -> str:
    """Return the name that a picture has once it is drawn anew as JPEG."""
    path = PurePath(name.replace("\\", "/"))
    if path.suffix.lower() in (".jpg", ".jpeg") or not path.name:
        return name
    return f"{path.stem}.jpg"


def _distance_to(order: WorkOrder, clean: CleanPhoto) -> float | None:
    premise = order.line.premise
    if None in (premise.latitude, premise.longitude, clean.latitude, clean.longitude):
        return None
    return distance_m(premise.latitude, premise.longitude, clean.latitude, clean.longitude)


def distance_m(lat_a: float, lon_a: float, lat_b: float, lon_b: float) -> float:
    """Return the great-circle distance of two places in degrees, meters, on a round earth.

    Examples
    --------
    >>> round(distance_m(41.5, -100.3, 41.5, -100.29))
    833
    """
    a, b = math.radians(lat_a), math.radians(lat_b)
    half_chord = (
        math.sin((b - a) / 2) ** 2
        + math.cos(a) * math.cos(b) * math.sin(math.radians(lon_b - lon_a) / 2) ** 2
    )
    return 2 * 6_371_009 * math.asin(min(1.0, math.sqrt(half_chord)))
