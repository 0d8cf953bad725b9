"""The collections that are served: for everybody the public inventory, for staff more columns."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Max, Min, QuerySet

from program.public.kept import LISTED, kept_while, record_mark
from program.public.records import (
    ROUNDED,
    PublicColumn,
    columns,
    public_lines,
    utility,
)
from services_inventory.models.lines import LineUse

STAFF_COLUMNS = (
    PublicColumn("use", "use", "text", "Intended use of the line.", tuple(LineUse.values)),
    PublicColumn("premise_kind", "premise__kind", "text", "Kind of building."),
    PublicColumn("installed_year", "installed_year", "number", "Year of installation, if known."),
    PublicColumn(
        "system_nominal_in", "system_nominal_in", "number", "System side, nominal inches."
    ),
    PublicColumn(
        "customer_nominal_in", "customer_nominal_in", "number", "Customer side, nominal inches."
    ),
    PublicColumn("reason", "decision__reason", "text", "Why the line has its category."),
    PublicColumn("validation", "validation", "text", "Whether the category was validated."),
    PublicColumn("in_conflict", "in_conflict", "boolean", "Evidence contradicts itself."),
)
_NOT_FILTERED = ("address", "unit", "reason")


@dataclass(frozen=True)
class Collection:
    """A feature collection: its id, what it is called, and which columns it shows."""

    id: str
    title: str
    description: str
    staff: bool

    @property
    def with_addresses(self) -> bool:
        """Whether addresses and exact positions are shown."""
        return self.staff or utility().publish_addresses

    @property
    def columns(self) -> tuple[PublicColumn, ...]:
        """The columns that features have, positions included."""
        shown = columns(self.with_addresses)
        return (*shown, *STAFF_COLUMNS) if self.staff else shown

    @property
    def filters(self) -> dict[str, PublicColumn]:
        """The columns that a query may name."""
        return {
            column.name: column
            for column in self.columns
            if column.kind == "text" and column.name not in _NOT_FILTERED
        }

    def lines(self) -> QuerySet:
        """Return the lines of the collection."""
        return public_lines()

    def rows(self, lines: QuerySet) -> QuerySet:
        """Return dicts {id, p_column: value} in order of id."""
        named = {f"p_{column.name}": F(column.lookup) for column in self.columns}
        return lines.order_by("id").values("id", **named)

    def features(self, rows: Iterable[dict]) -> list[dict]:
        """Return rows as GeoJSON features."""
        exact = self.with_addresses
        return [self._feature(row, exact) for row in rows]

    @staticmethod
    def _feature(row: dict, exact: bool) -> dict:
        shown = {name.removeprefix("p_"): value for name, value in row.items()}
        at = [shown.pop("longitude"), shown.pop("latitude")]
        if not exact:
            at = [part if part is None else round(part, ROUNDED) for part in at]
        pk = shown.pop("id")
        if isinstance(shown["category_since"], date):
            shown["category_since"] = shown["category_since"].isoformat()
        place = None if None in at else {"type": "Point", "coordinates": at}
        return {"type": "Feature", "id": pk, "geometry": place, "properties": shown}

    def extent(self) -> dict:
        """Return the extent in space and time."""
        return kept_while(record_mark(LISTED), f"ogc-extent-{self.with_addresses}", self._extent)

    def _extent(self) -> dict:
        found = self.lines().aggregate(
            west=Min("premise__longitude"),
            south=Min("premise__latitude"),
            east=Max("premise__longitude"),
            north=Max("premise__latitude"),
            since=Min("category_since"),
        )
        box = [found[side] for side in ("west", "south", "east", "north")]
        extent = {}
        if None not in box:
            crs = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
            extent["spatial"] = {"bbox": [box], "crs": crs}
        if found["since"]:
            start = f"{found['since'].isoformat()}T00:00:00Z"
            trs = "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian"
            extent["temporal"] = {"interval": [[start, None]], "trs": trs}
        return extent


PUBLIC = Collection(
    "service_lines",
    "Service lines",
    "Every service line of the public inventory, with its category and materials.",
    staff=False,
)
STAFF = Collection(
    "service_lines",
    "Service lines, for staff",
    "Every service line with its address, use, sizes and the reason for its category.",
    staff=True,
)


def collections(staff: bool) -> dict[str, Collection]:
    """Return the collections that one of the two services has, by id."""
    found = STAFF if staff else PUBLIC
    return {found.id: found}
