"""What must be in order before a contractor may be given work, and who has to do what."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from services_inventory.asked_once import once
from services_inventory.domain.days import day_told

from ..domain.findings import Finding, Level
from ..domain.pipes import pipe_named
from ..models import Certificate, Contractor, MaterialLot, WorkOrder
from .ground import ground_stops
from .together import rows_of

REQUIRED_CERTIFICATES = ("INSURANCE", "LICENSE", "COMPETENT_PERSON")
WARN_BEFORE = timedelta(days=30)
_ONE_SIZE_IN = 0.002


@dataclass(frozen=True)
class Readiness:
    """One thing that must be in order: whether it is, until when, and what to do."""

    name: str
    ready: bool
    sentence: str
    expires_on: date | None = None
    soon: bool = False


@once
def certificates_ready(contractor: Contractor, as_of: date) -> list[Readiness]:
    """Return each required certificate of a contractor as it stands on a day."""
    latest: dict[str, date] = {}
    for row in rows_of(contractor, "certificates"):
        latest[row.kind] = max(row.expires_on, latest.get(row.kind, row.expires_on))
    return [
        _certificate(contractor.name, kind, latest.get(kind), as_of)
        for kind in REQUIRED_CERTIFICATES
    ]


def _certificate(company: str, kind: str, expires_on: date | None, as_of: date) -> Readiness:
    name = Certificate.Kind(kind).label
    if expires_on is None:
        sentence = f"{company} must send proof of its {name}; none is on record."
        return Readiness(name, False, sentence)
    if expires_on < as_of:
        sentence = (
            f"{company} must renew proof of its {name}; it ran out on {day_told(expires_on)}."
        )
        return Readiness(name, False, sentence, expires_on)
    soon = expires_on - as_of <= WARN_BEFORE
    return Readiness(name, True, f"Valid to {day_told(expires_on)}.", expires_on, soon)


def material_ready(contractor: Contractor, material: str, nominal_in: float, grade: str):
    """Return whether a lot of this pipe with its drinking-water papers is on record."""
    lots = lots_for(contractor, material, nominal_in, grade)
    name = f"papers of the new pipe ({pipe_named(material, nominal_in, grade)})"
    if not lots:
        sentence = f"{contractor.name} must record the lot of the {name[14:]} it will lay."
        return Readiness(name, False, f"{sentence} None is on record.")
    missing = {lot.lot: papers_missing(lot, contractor) for lot in lots}
    good = next((lot for lot, papers in missing.items() if not papers), None)
    if good:
        return Readiness(name, True, f"Lot {good} has its papers.")
    lot, papers = next(iter(missing.items()))
    sentence = f"{contractor.name} must show the papers of lot {lot}: {'; '.join(papers)}."
    return Readiness(name, False, sentence)


def papers_missing(lot: MaterialLot, contractor: Contractor) -> list[str]:
    """Return which papers of a lot are not on record."""
    asked = {
        "NSF/ANSI/CAN 61 (drinking-water contact)": lot.contact_standard,
        "NSF/ANSI/CAN 372 (lead-free)": lot.lead_free_standard,
    }
    if contractor.domestic_content_required:
        asked["domestic content (federal money)"] = lot.domestic_content
    return [paper for paper, shown in asked.items() if not shown]


def lots_ready(contractor: Contractor) -> list[tuple[MaterialLot, list[str]]]:
    """Return the latest lots of a contractor, each with the papers that are missing."""
    lots = contractor.lots.select_related("document").order_by("-id")[:100]
    return [(lot, papers_missing(lot, contractor)) for lot in lots]


def paper_findings(order: WorkOrder, as_of: date) -> list[Finding]:
    """Return a stop for each certificate that is missing or has run out on the day of work."""
    return [
        Finding(
            Level.STOP, "PAPER_MISSING", item.sentence, "planning rule of this program [judgment]",
            "Record the paper under Contractors before anybody starts.",
        )
        for item in certificates_ready(order.contractor, as_of)
        if not item.ready
    ]  # fmt: skip


def lots_for(contractor: Contractor, material: str, nominal_in: float, grade: str):
    """Return the contractor's lots of one pipe, the latest first."""
    size = Q(nominal_in__isnull=True) | Q(
        nominal_in__range=(nominal_in - _ONE_SIZE_IN, nominal_in + _ONE_SIZE_IN)
    )
    found = MaterialLot.objects.filter(size, contractor=contractor, material=material)
    return list(found.filter(Q(grade="") | Q(grade=grade)).order_by("-id"))


def order_blocks(order: WorkOrder, as_of: date) -> list[str]:
    """Return in sentences what stands against releasing an order on a day."""
    contractor = order.contractor
    found = certificates_ready(contractor, as_of)
    found.append(
        material_ready(contractor, order.new_material, order.new_nominal_in, order.new_grade)
    )
    blocked = [item.sentence for item in found if not item.ready]
    if not contractor.active:
        blocked.insert(0, f"{contractor.name} is not active; choose another contractor.")
    return blocked + [f"{stop.message} {stop.do}" for stop in ground_stops(order, as_of)]
