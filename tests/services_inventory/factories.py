"""Lines in the state that a test needs, made as the program makes them: from evidence."""

from datetime import UTC, date, datetime
from itertools import count

from services_inventory.models import Neighborhood, Premise, ServiceLine
from services_inventory.operations.evidence import evidence_record

MORNING = datetime(2028, 3, 1, 9, tzinfo=UTC)
_numbers = count(1)


def neighborhood(name="Ropewalk", **values) -> Neighborhood:
    """Return a neighborhood without a boundary."""
    return Neighborhood.objects.get_or_create(name=name, defaults=values)[0]


def bare_line(address="12 Mill St", *, in_neighborhood=None, **values) -> ServiceLine:
    """Return a line that nothing is known about, and that counts nowhere yet."""
    number = next(_numbers)
    premise = Premise.objects.create(
        address=address,
        address_key=f"{address.upper()}|{number}",
        latitude=41.5,
        longitude=-100.3,
        neighborhood=in_neighborhood,
    )
    return ServiceLine.objects.create(
        location_id=values.pop("location_id", f"T-{number:05d}"),
        premise=premise,
        neighborhood=in_neighborhood,
        **values,
    )


def line_of(system="UNKNOWN", customer="UNKNOWN", *, at=MORNING, basis="EXCAVATION", **values):
    """Return a line whose two portions were seen to be of these materials."""
    line = bare_line(**values)
    for portion, material in (("SYSTEM", system), ("CUSTOMER", customer)):
        inspected = basis in ("EXCAVATION", "VISUAL_INSPECTION")
        evidence_record(
            line=line,
            portion=portion,
            material=material,
            basis=basis,
            points_seen=1 if inspected else 0,
            observed_on=date(2028, 2, 1) if inspected else None,
            by="clerk",
            recorded_at=at,
        )
    return line
