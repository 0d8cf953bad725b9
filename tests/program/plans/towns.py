"""Constructed towns for plans: a few streets of lines with categories set directly."""

from datetime import UTC, date, datetime

from services_inventory.models import Neighborhood, Premise, ServiceLine

BEFORE = date(2027, 3, 1)  # before program year 1: no pool is frozen yet
NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)
WHO = {"by": "planner", "at": NOON}
QUICK = {"runs": 200, "area_least": 3, "area_target": 6, "area_most": 12}


def street(hood: Neighborhood | None, name: str, north: int, categories: list[str], **values):
    """Make one street of lines, one house number after the other, 15 m apart."""
    premises = Premise.objects.bulk_create(
        Premise(
            address=f"{number} {name}",
            address_key=f"{name}|{number}",
            street_key=name,
            house_number=number,
            latitude=values.get("latitude", 41.5 + north * 0.002),
            longitude=values.get("longitude", -100.3 + number * 0.0002),
            neighborhood=hood,
            kind=values.get("kind", "SINGLE_FAMILY"),
        )
        for number in range(1, len(categories) + 1)
    )
    return ServiceLine.objects.bulk_create(
        ServiceLine(
            location_id=f"{name}-{premise.house_number:03d}",
            premise=premise,
            neighborhood=hood,
            category=category,
            system_material="LEAD" if category == "LEAD" else "UNKNOWN",
            installed_year=1910,
        )
        for premise, category in zip(premises, categories, strict=True)
    )


def two_hoods() -> tuple[Neighborhood, Neighborhood]:
    """Two neighborhoods: 24 lead lines in one; 12 GRR and 6 unknown lines in the other."""
    east = Neighborhood.objects.create(name="East", attributes={"need_index": "7.5"})
    west = Neighborhood.objects.create(name="West", attributes={"need_index": 2})
    street(east, "ALDER ST", 0, ["LEAD"] * 12)
    street(east, "BIRCH ST", 1, ["LEAD"] * 12)
    street(west, "CEDAR ST", 9, ["GRR"] * 12 + ["UNKNOWN"] * 6)
    return east, west
