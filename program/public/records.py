"""What the public sees of a line, and nothing else: one list of columns for every way out.

Names, telephone numbers, consent and refusals stand in other tables and are never joined here.
Where the utility publishes location identifiers instead of addresses, the address columns are
left out and positions are given to three decimals of a degree (about 100 m).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache as once_ever

from django.db.models import F, QuerySet
from django.utils.translation import gettext_lazy as _

from program.models import Utility
from program.public import words
from program.public.kept import REPLACED, kept_while, record_mark
from program.queries.replacements import full_replacements
from program.utility import the_utility
from services_inventory.domain.classification import Category
from services_inventory.domain.materials import Connector, Material
from services_inventory.models import CategoryChange, PremiseChange, ServiceLine

ROUNDED = 3
CHUNK = 5_000


@dataclass(frozen=True)
class PublicColumn:
    """One published column: its name, where it comes from, its kind, what it means."""

    name: str
    lookup: str
    kind: str
    meaning: str
    codes: tuple[str, ...] = ()
    is_address: bool = False

    @property
    def kind_in_words(self) -> str:
        """Return the kind in the reader's language."""
        return words.KINDS[self.kind]

    @property
    def codes_in_words(self) -> str:
        """Return each code with its word in the reader's language."""
        known = words.MATERIALS | (words.CATEGORY_NAMES if self.name == "category" else {})
        return "; ".join(f"{code}: {known[code]}" for code in self.codes)


COLUMNS = (
    PublicColumn("location_id", "location_id", "text", _("What we call the place of the line.")),
    PublicColumn("address", "premise__address", "text", _("Street address."), is_address=True),
    PublicColumn("unit", "premise__unit", "text", _("Unit at the address."), is_address=True),
    PublicColumn("city", "premise__city", "text", _("City or town.")),
    PublicColumn("postcode", "premise__postcode", "text", _("ZIP code.")),
    PublicColumn("neighborhood", "neighborhood__name", "text", _("Neighborhood of the program.")),
    PublicColumn(
        "category",
        "category",
        "text",
        _("Category of the whole line."),
        tuple(Category),
    ),
    PublicColumn(
        "system_side",
        "system_material",
        "text",
        _("Material of the water system's side; NONE: there is no such portion."),
        tuple(Material),
    ),
    PublicColumn(
        "customer_side",
        "customer_material",
        "text",
        _("Material of the customer's side; NONE: there is no such portion."),
        tuple(Material),
    ),
    PublicColumn(
        "connector",
        "connector",
        "text",
        _("Short bendable piece at the main (gooseneck): lead, not lead, unknown or none."),
        tuple(Connector),
    ),
    PublicColumn("category_since", "category_since", "date", _("First day of this category.")),
    PublicColumn("latitude", "premise__latitude", "number", _("Degrees north, WGS 84.")),
    PublicColumn("longitude", "premise__longitude", "number", _("Degrees east, WGS 84.")),
)
FILTERS = {
    column.name: column
    for column in COLUMNS
    if column.kind == "text" and column.name not in ("address", "unit")
}


def utility() -> Utility:
    """Return the utility whose inventory this is."""
    return the_utility() or Utility(name="Water utility")


def columns(with_addresses: bool) -> tuple[PublicColumn, ...]:
    """Return the columns that are published."""
    return tuple(column for column in COLUMNS if with_addresses or not column.is_address)


def public_lines() -> QuerySet:
    """Return the lines of the public inventory: all that have a category."""
    return ServiceLine.objects.filter(category__isnull=False)


def rows(lines: QuerySet, with_addresses: bool) -> QuerySet:
    """Return dicts {id, column name: value} of the lines, in order of id."""
    # A prefix keeps our names apart from the model's own.
    named = {f"p_{column.name}": F(column.lookup) for column in columns(with_addresses)}
    return lines.order_by("id").values("id", **named)


def published(row: dict, with_addresses: bool) -> dict:
    """Return a row of `rows` as it is shown: names without prefix, positions rounded if need be."""
    shown = {name.removeprefix("p_"): value for name, value in row.items()}
    if not with_addresses:
        for name in ("latitude", "longitude"):
            shown[name] = None if shown[name] is None else round(shown[name], ROUNDED)
    return shown


def published_rows(lines: QuerySet, with_addresses: bool) -> Iterator[dict]:
    """Yield the lines as they are shown, in flat memory."""
    for row in rows(lines, with_addresses).iterator(chunk_size=CHUNK):
        yield published(row, with_addresses)


def one_line(location_id: str) -> dict | None:
    """Return the line with this identifier as it is shown, or None."""
    with_addresses = utility().publish_addresses
    row = _shown(with_addresses).filter(location_id=location_id).first()
    return published(row, with_addresses) if row else None


@once_ever
def _shown(with_addresses: bool) -> QuerySet:
    return rows(public_lines(), with_addresses)  # put into words once; each caller's is a copy


def replaced() -> int:
    """Return how many lead and galvanized lines were replaced in full."""
    return kept_while(record_mark(REPLACED), "public-replaced", full_replacements)


def version(as_of: date) -> str:
    """Return a mark that changes whenever a file of the public inventory would change."""
    last = CategoryChange.objects.order_by("-id").values_list("id", flat=True).first() or 0
    places = PremiseChange.objects.order_by("-id").values_list("id", flat=True).first() or 0
    lines = ServiceLine.objects.order_by("-id").values_list("id", flat=True).first() or 0
    addresses = "addresses" if utility().publish_addresses else "identifiers"
    return f"{as_of:%Y%m%d}-{lines}-{last}-{places}-{addresses}"
