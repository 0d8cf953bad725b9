"""What must be in order before a contractor works: certificates, lots of pipe with their papers."""

from datetime import date, datetime

from services_inventory.models import Document
from services_inventory.refused import Refused

from ..models import Certificate, Contractor, Crew, MaterialLot


def certificate_record(
    *,
    contractor: Contractor,
    kind: str,
    expires_on: date,
    by: str,
    at: datetime,
    holder: str = "",
    number: str = "",
    document: Document | None = None,
) -> Certificate:
    """Record a certificate; the one that lasts longest counts.

    Raises
    ------
    Refused: there is no such kind.
    """
    if kind not in Certificate.Kind.values:
        raise Refused(f"A certificate is one of {', '.join(Certificate.Kind.values)}.")
    return Certificate.objects.create(
        contractor=contractor,
        kind=kind,
        holder=holder,
        number=number,
        expires_on=expires_on,
        document=document,
        recorded_by=by,
        recorded_at=at,
    )


def material_lot_record(
    *,
    contractor: Contractor,
    lot: str,
    material: str,
    by: str,
    at: datetime,
    nominal_in: float | None = None,
    grade: str = "",
    contact_standard: bool = False,
    lead_free_standard: bool = False,
    domestic_content: bool = False,
    document: Document | None = None,
) -> MaterialLot:
    """Record a lot of pipe with the papers that make it fit for drinking water.

    Raises
    ------
    Refused: the lot has no name, or is on record already.
    """
    lot = lot.strip()
    if not lot:
        raise Refused("Write the lot number that stands on the pipe.")
    if MaterialLot.objects.filter(contractor=contractor, lot=lot).exists():
        raise Refused(f"Lot {lot} of {contractor.name} is on record already.")
    return MaterialLot.objects.create(
        contractor=contractor,
        lot=lot,
        material=material,
        nominal_in=nominal_in,
        grade=grade,
        contact_standard=contact_standard,
        lead_free_standard=lead_free_standard,
        domestic_content=domestic_content,
        document=document,
        recorded_by=by,
        recorded_at=at,
    )


def crew_record(*, contractor: Contractor, name: str, foreman: str = "") -> Crew:
    """Record a crew of a contractor, or its new foreman; one that was given up works again.

    Raises
    ------
    Refused: the crew has no name.
    """
    if not name.strip():
        raise Refused("Write the name of the crew.")
    said = {"foreman": foreman.strip(), "active": True}
    return Crew.objects.update_or_create(contractor=contractor, name=name.strip(), defaults=said)[0]


def domestic_content_ask(*, contractor: Contractor, required: bool) -> None:
    """Say whether a contractor's pipe needs domestic-content papers."""
    Contractor.objects.filter(pk=contractor.pk).update(domestic_content_required=required)
