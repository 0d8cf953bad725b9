"""The open replacement pool line by line, and what each neighborhood brings to its priority."""

from collections import Counter
from typing import NamedTuple

from program.planning.work_areas import PoolLine
from program.queries.planning.census import census_in_force
from replacements.models import Consent
from services_inventory.models import Neighborhood, ServiceLine

OPEN = ("LEAD", "GRR", "UNKNOWN")
SENSITIVE = ("SCHOOL", "CHILD_CARE")
CHUNK = 5_000


class OpenLine(NamedTuple):
    """A line still to be replaced or settled, with its place."""

    pk: int
    location_id: str
    category: str
    street: str
    number: int | None
    neighborhood_id: int | None
    neighborhood: str | None
    lat: float | None
    lon: float | None
    kind: str
    installed_year: int | None
    size_in: float | None

    def for_grouping(self) -> PoolLine:
        """The line as the grouping into work areas reads it."""
        return PoolLine(
            self.location_id, self.street, self.number, self.neighborhood, self.lat, self.lon
        )


def open_lines() -> list[OpenLine]:
    """Return every line now lead, GRR or unknown, by its location id."""
    rows = (
        ServiceLine.objects.filter(category__in=OPEN)
        .order_by("location_id")
        .values_list(
            "pk", "location_id", "category", "premise__street_key", "premise__house_number",
            "neighborhood_id", "neighborhood__name", "premise__latitude", "premise__longitude",
            "premise__kind", "installed_year", "system_nominal_in", "customer_nominal_in",
        )
    )  # fmt: skip
    return [OpenLine(*row[:11], row[11] or row[12]) for row in rows.iterator(CHUNK)]


def answers() -> dict[int, str]:
    """Return the owner's last answer by line: GIVEN, REFUSED or REVOKED."""
    rows = Consent.objects.order_by("answered_on", "id").values_list("line_id", "answer")
    return dict(rows.iterator(CHUNK))


class HoodFacts(NamedTuple):
    """A neighborhood as the plan sees it."""

    id: int
    name: str
    has_boundary: bool
    attributes: dict
    census: dict


def hood_facts() -> list[HoodFacts]:
    """Return every neighborhood, by name, with what census areas in force say of it."""
    census = census_in_force()
    laid = census["hoods"] if census else {}
    rows = Neighborhood.objects.order_by("name").values_list(
        "id", "name", "boundary_wkb", "attributes"
    )
    return [
        HoodFacts(pk, name, bool(wkb), facts or {}, laid.get(name, {}).get("figures", {}))
        for pk, name, wkb, facts in rows
    ]


def sensitive_counts(lines) -> Counter:
    """Return {neighborhood: schools and child care among the lines given}."""
    return Counter(line.neighborhood for line in lines if line.kind in SENSITIVE)
