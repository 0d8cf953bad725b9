"""A constructed small town: several neighborhoods, equal addresses, lines in none."""

from itertools import product

from services_inventory.models import Premise, ServiceLine
from services_inventory.operations.evidence import evidence_record_many
from tests.kept import kept
from tests.services_inventory.factories import MORNING, bare_line, neighborhood

PAIRS = (("LEAD", "LEAD"), ("COPPER", "GALVANIZED"), ("COPPER", "PLASTIC"), ("UNKNOWN", "COPPER"))
STREETS = ("MILL ST", "MILL LN", "ROPEWALK")


@kept
def small_town() -> list[ServiceLine]:
    """Return 48 lines; every third address is shared, and twelve lines lie in no neighborhood."""
    places = (neighborhood("Tannery"), neighborhood("Ropewalk"), neighborhood("Quarry"), None)
    lines, rows = [], []
    for number, (place, street, (system, customer)) in enumerate(product(places, STREETS, PAIRS)):
        line = bare_line(
            f"{number // 3} {street.title()}",
            in_neighborhood=place,
            installed_year=(None, 1925, 1948, 1990)[number % 4],
            use="FIRE" if number % 7 == 0 else "DOMESTIC",
        )
        Premise.objects.filter(pk=line.premise_id).update(
            address_key=f"{number // 3} {street}",
            street_key=street,
            house_number=number // 3,
            kind="SCHOOL" if number % 10 == 0 else "",
        )
        lines.append(line)
        for portion, material in (("SYSTEM", system), ("CUSTOMER", customer)):
            rows.append(
                {
                    "line_id": line.pk,
                    "portion": portion,
                    "material": material,
                    "basis": "RECORD_TAP_CARD",
                }
            )
    evidence_record_many(rows=rows, by="clerk", recorded_at=MORNING)
    for line in lines:
        line.refresh_from_db()
    return lines
